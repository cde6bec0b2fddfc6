"""The component ledger: the list of its lines, a screen for each, and when the vehicle was built."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.actions import ledger as actions
from inventory.actions.ledger import Built, Line
from inventory.forms.ledger import BuildDateForm, LineForm
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import ledger as queries
from inventory.queries.ledger import LinePage
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.roles import Act
from inventory.rules.words import Judgement

SAVING = ("save", "next")  # the third button only looks the codes up


@require_safe
@staff_page(Act.INSPECT)
def ledger(request: StaffRequest, stock_number: str) -> HttpResponse:
    return _show(request, stock_number, form=BuildDateForm())


def _show(request: StaffRequest, stock_number: str, *, form: BuildDateForm) -> HttpResponse:
    stay = stay_by_number(stock_number)
    shown = {"stay": stay, "ledger": queries.ledger_of(stay.vehicle_id), "form": form, "here": "walk"}
    return render(request, "inventory/ledger/page.html", shown)


@staff_page(Act.INSPECT)
def add_build_date(request: StaffRequest, stock_number: str) -> HttpResponse:
    if request.method != "POST":  # whoever signs in anew after sending the form comes back by GET
        return redirect("ledger", stock_number)
    stay, form = stay_by_number(stock_number), BuildDateForm(request.POST)
    if form.is_valid():
        built = Built(**form.values())
        deed = attempt(
            form, lambda: actions.record_build_date(stay.pk, built=built, by=request.actor, at=timezone.now())
        )
        if deed is not None:
            messages.success(request, "The build date is recorded, and every dated line is held against it.")
            return redirect("ledger", stock_number)
    return _show(request, stock_number, form=form)


@staff_page(Act.INSPECT)
def line(request: StaffRequest, stock_number: str, component: str) -> HttpResponse:
    """One component. Saved, the list is shown again or the next component; a code can be looked up before."""
    stay = stay_by_number(stock_number)
    page = queries.line_page(stay.vehicle, code=component)
    saving = request.POST.get("do", "save") in SAVING
    typed = request.POST if request.method == "POST" and not saving else None
    form = LineForm(request.POST if request.method == "POST" and saving else None, line=page.line, typed=typed)
    if form.is_valid() and _saved(request, stay, page=page, form=form):
        return redirect(_way_on(request, stock_number, page=page))
    shown = {
        "stay": stay, "page": page, "form": form, "here": "walk", "looked": typed is not None,
        "meanings": queries.meanings_for(stay.vehicle, component=component, codes=form.codes, plate=form.plate),
    }  # fmt: skip
    return render(request, "inventory/ledger/line.html", shown)


def _saved(request: StaffRequest, stay: Any, *, page: LinePage, form: LineForm) -> bool:
    title = page.line.component.title
    if not form.says_something:
        messages.success(request, f"{title}: nothing was changed.")
        return True
    said = Line(component=page.line.component.code, **form.values())
    row = attempt(form, lambda: actions.record_component(stay.pk, line=said, by=request.actor, at=timezone.now()))
    if row is not None:
        _tell(request, row, page=page)
    return row is not None


def _tell(request: StaffRequest, row: Any, *, page: LinePage) -> None:
    """The line is written; what its date says, and what else whoever wrote it should know."""
    title = page.line.component.title
    messages.success(request, f"{title}: the line is written.")
    finding = queries.finding_of(row, build=page.build)
    for note in queries.notes_on(row, finding=finding):
        usual = finding is not None and finding.judgement == Judgement.EXPECTED and note == finding.message
        messages.add_message(request, messages.SUCCESS if usual else messages.WARNING, f"{title}: {note}")


def _way_on(request: StaffRequest, stock_number: str, *, page: LinePage) -> str:
    if request.POST.get("do") == "next" and page.after is not None:
        return reverse("ledger_line", args=[stock_number, page.after.code])
    return f"{reverse('ledger', args=[stock_number])}#{page.line.component.code}"
