"""The trust report: what is held for whom, beside what the bank says; and the money that moves for one vehicle."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from inventory.actions import trusting
from inventory.forms.trust import BalanceForm, DayForm, MoveForm
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import trust as queries
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.roles import Act


@require_GET
@staff_page(Act.SEE_TRUST)
def report(request: StaffRequest) -> HttpResponse:
    return _show(request)


@require_POST
@staff_page(Act.MOVE_TRUST)
def balance(request: StaffRequest) -> HttpResponse:
    form = BalanceForm(request.POST, auto_id="balance-%s")
    if form.is_valid() and None is not attempt(
        form, lambda: trusting.enter_balance(**form.cleaned_data, by=request.actor, at=timezone.now())
    ):
        messages.success(request, "The bank's balance is entered.")
        return redirect("trust")
    return _show(request, failed=form)


def _show(request: StaffRequest, *, failed: BalanceForm | None = None) -> HttpResponse:
    days = DayForm(request.GET or None)
    on = days.cleaned_data["on"] if days.is_valid() else None
    context = {
        "report": queries.report(on=on or timezone.localdate()),
        "day_form": days,
        "balance_form": failed or BalanceForm(auto_id="balance-%s"),
    }
    return render(request, "inventory/trust/page.html", context, status=422 if failed else 200)


@require_POST
@staff_page(Act.MOVE_TRUST)
def move(request: StaffRequest, stock_number: str) -> HttpResponse:
    """Money between the trust account and the lot's own, for one vehicle; told on its settlement page."""
    stay = stay_by_number(stock_number)
    form = MoveForm(request.POST, auto_id="trust-%s")
    if form.is_valid() and None is not attempt(
        form, lambda: trusting.move_money(stay.pk, **form.cleaned_data, by=request.actor, at=timezone.now())
    ):
        messages.success(request, "The movement is recorded.")
        return redirect("settlement", stock_number=stock_number)
    context = {"stay": stay, "here": "settlement", "form": form, "ledger": queries.ledger_of(stay)}
    return render(request, "inventory/trust/move.html", context, status=422)
