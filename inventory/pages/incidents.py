"""Incidents: of one vehicle, and all that are open on the lot."""

import uuid
from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from inventory.actions import incidents
from inventory.forms import incidents as forms
from inventory.forms.fields import once
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import incidents as queries
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.incidents import CAUTION, steps_open
from inventory.rules.roles import Act, may
from inventory.uploads import uploaded_picture


@require_GET
@staff_page(Act.LOG_INCIDENT)
def incidents_list(request: StaffRequest) -> HttpResponse:
    page, closed = queries.closed_page(request.GET.get("page", "1"))
    shown = {"open": queries.open_incidents(), "closed": closed, "page": page, "caution": CAUTION, "tab": "incidents"}
    return render(request, "inventory/incidents/list.html", shown)


@staff_page(Act.LOG_INCIDENT)
def vehicle_incidents(request: StaffRequest, stock_number: str) -> HttpResponse:
    stay = stay_by_number(stock_number)
    form = forms.IncidentForm(request.POST or None, request.FILES or None)
    if form.is_valid():
        given = once({name: value for name, value in form.cleaned_data.items() if name != "file"})
        row = attempt(
            form,
            lambda: incidents.log_incident(
                stay.pk, **given, pictures=_pictures(form), by=request.actor, at=timezone.now()
            ),
        )
        if row is not None:
            messages.success(request, "The incident is logged. Say who was told.")
            return redirect("vehicle_incidents", stock_number)
    return _show(request, stock_number, form=form)


def _pictures(form: forms.PicturesForm) -> list[Any]:
    return [uploaded_picture(one) for one in form.pictures()]


def _show(request: StaffRequest, stock_number: str, *, form: forms.IncidentForm, **sent: Any) -> HttpResponse:
    """Every incident with its forms; the one that was sent and refused stands open. `sent` holds its code too."""
    stay = stay_by_number(stock_number)
    closing = may(request.actor, Act.CLOSE_INCIDENT)
    found = []
    for seen in queries.incidents_of(stay):
        here = sent.get("code") == seen.row.code
        step = forms.StepForm(
            steps=steps_open([one.kind for one in seen.steps], may_close=closing), auto_id=f"step{seen.row.pk}_%s"
        )
        more = forms.MorePicturesForm(auto_id=f"more{seen.row.pk}_%s")
        found.append((seen, sent.get("step", step) if here else step, sent.get("more", more) if here else more))
    shown = {"stay": stay, "here": "incidents", "form": form, "found": found, "caution": CAUTION}
    return render(request, "inventory/incidents/page.html", shown)


@staff_page(Act.LOG_INCIDENT)
def add_incident_step(request: StaffRequest, stock_number: str, code: uuid.UUID) -> HttpResponse:
    def deed(row: Any, form: forms.StepForm) -> object:
        return incidents.add_step(row.pk, **once(form.cleaned_data), by=request.actor, at=timezone.now())

    row = queries.incident_by_code(code, stay=stay_by_number(stock_number))
    before = list(row.steps.order_by("pk").values_list("kind", flat=True))
    steps = steps_open(before, may_close=may(request.actor, Act.CLOSE_INCIDENT))
    form = forms.StepForm(request.POST, steps=steps, auto_id=f"step{row.pk}_%s")
    return _add(request, stock_number, row=row, name="step", form=form, deed=deed)


@staff_page(Act.LOG_INCIDENT)
def add_incident_pictures(request: StaffRequest, stock_number: str, code: uuid.UUID) -> HttpResponse:
    def deed(row: Any, form: forms.MorePicturesForm) -> object:
        return incidents.add_pictures(row.pk, pictures=_pictures(form), by=request.actor, at=timezone.now())

    row = queries.incident_by_code(code, stay=stay_by_number(stock_number))
    form = forms.MorePicturesForm(request.POST, request.FILES, auto_id=f"more{row.pk}_%s")
    return _add(request, stock_number, row=row, name="more", form=form, deed=deed)


def _add(
    request: StaffRequest, stock_number: str, *, row: Any, name: str, form: Any,
    deed: Callable[[Any, Any], object],
) -> HttpResponse:  # fmt: skip
    if request.method != "POST":
        return redirect("vehicle_incidents", stock_number)
    if form.is_valid() and attempt(form, lambda: deed(row, form)) is not None:
        messages.success(request, "It is recorded.")
        return redirect("vehicle_incidents", stock_number)
    return _show(request, stock_number, form=forms.IncidentForm(), code=row.code, **{name: form})
