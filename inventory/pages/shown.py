"""Where vehicles are shown: of the whole lot, what must be corrected first; of one vehicle, all of it."""

import uuid
from typing import Any

from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from inventory.actions import showing_places
from inventory.forms.shown import CorrectForm, ShowForm
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import shown as queries
from inventory.queries.facts import current_ask
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.roles import Act


@require_safe
@staff_page(Act.RECORD_SHOWN)
def shown(request: StaffRequest) -> HttpResponse:
    return render(
        request, "inventory/shown/list.html", {"shown": queries.shown_page(), "tab": "shown", "seen": "floor"}
    )


@staff_page(Act.RECORD_SHOWN)
def shown_of(request: StaffRequest, stock_number: str) -> HttpResponse:
    stay = stay_by_number(stock_number)
    ask = current_ask(stay)
    sent = request.POST or None
    form = ShowForm(sent, ask=ask.amount if ask else None)
    if sent and form.is_valid():
        said = form.cleaned_data
        done = attempt(form, lambda: showing_places.show_at(stay.pk, **said, by=request.actor, at=timezone.now()))
        if done is not None:
            messages.success(request, f"It is kept that {done.place} shows it.")
            return redirect("shown_of", stock_number)
    context = {
        "stay": stay, "shown": queries.shown_page(stay), "form": form, "places": queries.places_typed(), "here": "",
        "seen": "vehicle",
    }  # fmt: skip
    return render(request, "inventory/shown/page.html", context, status=422 if sent else 200)


@require_POST
@staff_page(Act.RECORD_SHOWN)
def correct_shown(request: StaffRequest, code: uuid.UUID) -> HttpResponse:
    """One tap on the list; what goes wrong is told on the page that the tap came from."""
    row = queries.publication(code)
    form = CorrectForm(request.POST)
    if form.is_valid() and attempt(form, lambda: _correct(request, code, form=form)) is not None:
        right = form.cleaned_data["do"] == "right"
        messages.success(request, f"{row.place}: set right." if right else f"{row.place}: taken down.")
    _tell_errors(request, form)
    if form.data.get("seen") == "vehicle":
        return redirect("shown_of", row.consignment.stock_number)
    return redirect("shown")


def _correct(request: StaffRequest, code: uuid.UUID, *, form: CorrectForm) -> object:
    said, by, at = form.cleaned_data, request.actor, timezone.now()
    if said["do"] == "down":
        return showing_places.take_down(code, version=said["version"], by=by, at=at)
    return showing_places.set_right(code, ask=said["ask"], version=said["version"], by=by, at=at)


def _tell_errors(request: StaffRequest, form: Form) -> None:
    for field, told in form.errors.items():
        label = form.fields[field].label if field in form.fields else ""
        for one in told:
            messages.error(request, f"{label}: {one}" if label else str(one))


def tell_shown(request: StaffRequest, stay: Any) -> None:
    """After a deed: the places that show what is no longer so."""
    stay.refresh_from_db()
    if told := queries.warning_of(stay):
        messages.warning(request, told)
