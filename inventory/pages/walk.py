"""The intake walk: one screen for each station, and the component ledger."""

from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from inventory.actions import inspecting
from inventory.actions.inspecting import Finding
from inventory.forms.walk import CheckForm, ComponentForm
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import walk as queries
from inventory.queries.inspections import latest_components, ledger_lines
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.roles import Act


@staff_page(Act.INSPECT)
def walk(request: StaffRequest, stock_number: str) -> HttpResponse:
    return _show(request, stock_number, form=Form())


def _show(request: StaffRequest, stock_number: str, *, form: Form) -> HttpResponse:
    stay = stay_by_number(stock_number)
    shown = {"stay": stay, "walk": queries.walk_of(stay), "form": form, "here": "walk"}
    return render(request, "inventory/walk/page.html", shown)


@staff_page(Act.INSPECT)
def begin(request: StaffRequest, stock_number: str) -> HttpResponse:
    if request.method != "POST":  # whoever signs in anew after sending the form comes back by GET
        return redirect("walk", stock_number)
    stay = stay_by_number(stock_number)
    form = Form(request.POST)
    row = attempt(form, lambda: inspecting.begin_inspection(stay.pk, by=request.actor, at=timezone.now()))
    return _show(request, stock_number, form=form) if row is None else redirect("walk", stock_number)


@staff_page(Act.INSPECT)
def finish(request: StaffRequest, stock_number: str) -> HttpResponse:
    if request.method != "POST":
        return redirect("walk", stock_number)
    stay = stay_by_number(stock_number)
    form = Form(request.POST)
    row = attempt(form, lambda: inspecting.finish_inspection(stay.pk, by=request.actor, at=timezone.now()))
    if row is None:
        return _show(request, stock_number, form=form)
    messages.success(request, f"Inspection {row.number} is finished: condition {row.condition_low} to "
                     f"{row.condition_high}.")  # fmt: skip
    return redirect("vehicle_file", stock_number)


@staff_page(Act.INSPECT)
def station(request: StaffRequest, stock_number: str, station: str) -> HttpResponse:
    """Grade one station, then go on to the next."""
    stay = stay_by_number(stock_number)
    page = queries.station_page(stay, code=station)
    if request.method != "POST" and not page.is_open:
        messages.warning(request, "No inspection is open. Begin one to grade a station.")
        return redirect("walk", stock_number)
    forms = [CheckForm(request.POST or None, found=found) for found in page.found.checks]
    sound = request.method == "POST" and all(form.is_valid() for form in forms)
    if sound and all(_record(request, stay.pk, form=form) for form in forms):
        return redirect("station", stock_number, page.after) if page.after else redirect("walk", stock_number)
    shown = {"stay": stay, "page": page, "forms": forms, "wrong": any(form.errors for form in forms)}
    return render(request, "inventory/walk/station.html", shown)


def _record(request: StaffRequest, consignment_id: int, *, form: CheckForm) -> bool:
    finding = Finding(**form.values())
    row = attempt(
        form, lambda: inspecting.record_check(consignment_id, finding=finding, by=request.actor, at=timezone.now())
    )
    return row is not None


@staff_page(Act.INSPECT)
def ledger(request: StaffRequest, stock_number: str) -> HttpResponse:
    """All components on one page; each line that was changed is a new row of the ledger."""
    stay = stay_by_number(stock_number)
    lines = ledger_lines(latest_components(stay.vehicle_id))
    forms = [ComponentForm(request.POST or None, line=line) for line in lines]
    if request.method == "POST" and all(form.is_valid() for form in forms):
        changed = [form for form in forms if form.has_changed()]
        if all(_write(request, stay.pk, form=form) for form in changed):
            messages.success(request, _told(len(changed)))
            return redirect("walk", stock_number)
    shown = {"stay": stay, "forms": forms, "wrong": any(form.errors for form in forms), "here": "walk"}
    return render(request, "inventory/walk/ledger.html", shown)


def _write(request: StaffRequest, consignment_id: int, *, form: ComponentForm) -> bool:
    given = form.values()
    row = attempt(
        form, lambda: inspecting.record_component(consignment_id, **given, by=request.actor, at=timezone.now())
    )
    return row is not None


def _told(count: int) -> str:
    if not count:
        return "Nothing was changed."
    return "One line of the ledger is written." if count == 1 else f"{count} lines of the ledger are written."
