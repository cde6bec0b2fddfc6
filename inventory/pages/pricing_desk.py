"""The pricing desk: the band beside the ask, and the owner's decision."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_GET, require_POST

from inventory.actions import asking, pricing
from inventory.errors import Refused
from inventory.forms.pricing_desk import AskForm, ViewForm
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.pages.shown import tell_shown
from inventory.queries import ask_desk, ask_page
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
    here = ask_desk.situation_of(stay, fit=queries.fit_of_the_desk(), today=timezone.localdate())
    form = AskForm(request.POST, here=here)
    if form.is_valid():
        said = form.cleaned_data
        suggestion = ask_desk.suggested_for(here, view=form.view(), amount=said["ask"])
        done = attempt(
            form,
            lambda: asking.set_ask(
                stay.pk, amount=said["ask"], reason=said["reason"], suggestion=suggestion, version=said["version"],
                by=request.actor, at=timezone.now(),
            ),
        )  # fmt: skip
        if done is not None:
            messages.success(request, "The ask is set.")
            tell_shown(request, stay)
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
    today = timezone.localdate()
    desk = queries.desk(stay, by=request.actor, today=today)
    here = ask_desk.situation_of(stay, fit=desk.fit, today=today)
    settings = ViewForm(form.data if form else request.GET, here=here)
    if not settings.is_valid():
        status = 422
    context = {
        "stay": stay, "desk": desk, "here": "price", "form": form or _empty(settings, desk=desk), "settings": settings,
        "asks": ask_page.page_of(here, view=settings.view()) if desk.in_stock and desk.opinion else None,
        "carried": urlencode({name: value for name, value in settings.carried.items() if value}),
    }  # fmt: skip
    return render(request, "inventory/pricing_desk/page.html", context, status=status)


def _empty(settings: ViewForm, *, desk: queries.Desk) -> AskForm:
    """The form of the ask: filled with what "Use it" says, else with the ask that stands."""
    now = desk.asks[0].amount if desk.asks else None
    ask = settings.cleaned_data.get("ask") or now
    return AskForm(here=settings.here, initial={"version": desk.stay.version, "ask": ask, **settings.carried})
