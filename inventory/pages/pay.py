"""Who shares in the commission of a vehicle, and what it comes to in a month."""

from datetime import date

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from inventory.actions import sharing
from inventory.forms.shares import MonthForm, ShareForm
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import pay_report as reports
from inventory.queries import shares as queries
from inventory.queries.pay_file import pay_csv
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.roles import Act


@require_http_methods(["GET", "POST"])
@staff_page(Act.SHARE_COMMISSION)
def shares(request: StaffRequest, stock_number: str) -> HttpResponse:
    stay = stay_by_number(stock_number)
    form = ShareForm(request.POST or None, staff=queries.staff_choices(stay))
    if form.is_valid():
        said = form.cleaned_data
        if attempt(form, lambda: sharing.share(stay.pk, **said, by=request.actor, at=timezone.now())) is not None:
            messages.success(request, "The share is recorded.")
            return redirect("shares", stock_number=stock_number)
    context = {"stay": stay, "here": "terms", "form": form, "page": queries.page_of(stay)}
    return render(request, "inventory/pay/shares.html", context, status=422 if form.errors else 200)


@require_GET
@staff_page(Act.SHARE_COMMISSION)
def pay_report(request: StaffRequest) -> HttpResponse:
    form = MonthForm(request.GET or None, initial={"month": f"{timezone.localdate():%Y-%m}"})
    context = {"form": form, "report": reports.report(_month(form)), "months": reports.months()}
    return render(request, "inventory/pay/page.html", context, status=422 if form.errors else 200)


@require_GET
@staff_page(Act.SHARE_COMMISSION)
def pay_report_csv(request: StaffRequest) -> HttpResponse:
    month = _month(MonthForm(request.GET or None))
    answer = HttpResponse(pay_csv(reports.report(month)), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="pay-report-{month:%Y-%m}.csv"'
    answer["Cache-Control"] = "no-store"
    return answer


def _month(form: MonthForm) -> date:
    """The month that was asked for, else the one that runs."""
    asked: date | None = form.cleaned_data["month"] if form.is_valid() else None
    return asked or timezone.localdate().replace(day=1)
