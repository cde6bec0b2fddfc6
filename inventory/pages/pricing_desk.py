"""The pricing desk: the band beside the ask, and the owner's decision."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from inventory.actions import asking, pricing
from inventory.errors import Refused
from inventory.forms.pricing_desk import AskForm
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import pricing_desk as queries
from inventory.rules.roles import Act


@require_GET
@staff_page(Act.SEE_PRICE)
def pricing_desk(request: StaffRequest, stock_number: str) -> HttpResponse:
    return _show(request, queries.stay_by_number(stock_number))


@require_POST
@staff_page(Act.SEE_PRICE)
def give_opinion(request: StaffRequest, stock_number: str) -> HttpResponse:
    stay = queries.stay_by_number(stock_number)
    try:
        pricing.give_opinion(stay.pk, by=request.actor, at=timezone.now())
    except Refused as problem:
        messages.error(request, str(problem))
    return redirect("pricing_desk", stock_number=stock_number)


@require_POST
@staff_page(Act.SET_ASK)
def set_ask(request: StaffRequest, stock_number: str) -> HttpResponse:
    stay = queries.stay_by_number(stock_number)
    form = AskForm(request.POST)
    if form.is_valid():
        said = form.cleaned_data
        done = attempt(
            form,
            lambda: asking.set_ask(
                stay.pk,
                amount=said["ask"],
                reason=said["reason"],
                version=said["version"],
                by=request.actor,
                at=timezone.now(),
            ),
        )
        if done is not None:
            messages.success(request, "The ask is set.")
            return redirect("pricing_desk", stock_number=stock_number)
    return _show(request, stay, form=form, status=422)


@require_POST
@staff_page(Act.LIST)
def list_vehicle(request: StaffRequest, stock_number: str) -> HttpResponse:
    stay = queries.stay_by_number(stock_number)
    try:
        asking.list_vehicle(stay.pk, by=request.actor, at=timezone.now())
        messages.success(request, f"{stock_number} is listed.")
    except Refused as problem:
        messages.error(request, str(problem))
    return redirect("pricing_desk", stock_number=stock_number)


def _show(request: StaffRequest, stay: Any, *, form: AskForm | None = None, status: int = 200) -> HttpResponse:
    desk = queries.desk(stay, by=request.actor, today=timezone.localdate())
    context = {
        "stay": stay,
        "desk": desk,
        "here": "price",
        "form": form or AskForm(initial={"version": stay.version, "ask": desk.asks[0].amount if desk.asks else None}),
    }
    return render(request, "inventory/pricing_desk/page.html", context, status=status)
