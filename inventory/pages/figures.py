"""The figures of a vehicle: tyres, engine, driveline, electrics, and what each of them means."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.actions import figures as actions
from inventory.actions.figures import Measured
from inventory.forms.figures import SECTIONS, StatementForm, TyresForm, section_form
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries.figures import VehicleFigures, figures_of
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.roles import Act

TYRES = "tyres"
DEEDS: dict[str, Any] = {
    "engine": actions.record_engine, "driveline": actions.record_driveline, "electrics": actions.record_electric,
}  # fmt: skip


@require_safe
@staff_page(Act.INSPECT)
def figures(request: StaffRequest, stock_number: str) -> HttpResponse:
    stay = stay_by_number(stock_number)
    return _show(request, stay, found=figures_of(stay, today=timezone.localdate()))


def _show(request: StaffRequest, stay: Any, *, found: VehicleFigures, **sent: Any) -> HttpResponse:
    """The whole page; what was sent and refused stands in its place, with nothing lost."""
    forms = {section: section_form(section, figures=found) for section in SECTIONS}
    parts = [getattr(found, section) for section in SECTIONS]
    shown = {TYRES: TyresForm(figures=found), **forms, **sent}
    return render(
        request,
        "inventory/figures/page.html",
        {
            "stay": stay, "figures": found, "here": "walk", "wrong": next(iter(sent), ""), "tyres": shown[TYRES],
            "sections": [(part, shown[part.code]) for part in parts],
        },
    )  # fmt: skip


@staff_page(Act.INSPECT)
def record_figures(request: StaffRequest, stock_number: str, section: str) -> HttpResponse:
    """One section was sent: what was changed in it is written, and the page shows what it means."""
    stay = stay_by_number(stock_number)
    if section not in {TYRES, *SECTIONS}:
        raise Http404
    place = f"{reverse('figures', args=[stock_number])}#{section}-title"
    if request.method != "POST":  # whoever signs in anew after sending a form comes back by GET
        return redirect(place)
    found = figures_of(stay, today=timezone.localdate())
    form: Any = (
        TyresForm(request.POST, figures=found)
        if section == TYRES
        else section_form(section, request.POST, figures=found)
    )
    write = _write_tyres if section == TYRES else _write_section
    count = write(request, stay.pk, form=form) if form.is_valid() else None
    if count is None:
        return _show(request, stay, found=found, **{section: form})
    messages.success(request, _told(count))
    return redirect(place)


def _write_tyres(request: StaffRequest, consignment_id: int, *, form: TyresForm) -> int | None:
    """How many tyres were written; None if one was refused."""
    by_place = {row.part.code: row for row in form.rows}
    count = 0
    for place, all_four, said in form.to_write():
        row = attempt(
            by_place[place],
            lambda place=place, all_four=all_four, said=said: actions.record_tyre(  # type: ignore[misc]
                consignment_id, position=place, measured=Measured(**said), all_four=all_four,
                by=request.actor, at=timezone.now(),
            ),
        )  # fmt: skip
        if row is None:
            return None
        count += 4 if all_four else 1
    return count


def _write_section(request: StaffRequest, consignment_id: int, *, form: StatementForm) -> int | None:
    """1 if something was written, 0 if nothing was said; None if it was refused."""
    if not form.says_something:
        return 0
    deed, measured = DEEDS[form.part.code], Measured(**form.values())
    row = attempt(form, lambda: deed(consignment_id, measured=measured, by=request.actor, at=timezone.now()))
    return None if row is None else 1


def _told(count: int) -> str:
    return "What you changed is recorded. See what it means below." if count else "Nothing was changed."
