"""The lot's own vehicles: bought, what they cost, what their sales made."""

from typing import Any

from django.contrib import messages
from django.forms import BaseForm
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from inventory.actions import owning
from inventory.actions.intake import Arrival
from inventory.actions.owning import Cost
from inventory.forms.own import AsideForm, BuyForm, CloseForm, CostForm
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import own as queries
from inventory.rules import money
from inventory.rules.roles import Act


@require_GET
@staff_page(Act.OWN_STOCK)
def own_stock(request: StaffRequest) -> HttpResponse:
    page = queries.own_page(today=timezone.localdate())
    return render(request, "inventory/own/list.html", {"page": page, "tab": "own"})


@staff_page(Act.OWN_STOCK)
def buy_vehicle(request: StaffRequest) -> HttpResponse:
    form = BuyForm(request.POST or None)
    if form.is_valid():
        said, arrival = form.cleaned_data, Arrival(**form.arrival())
        stay = attempt(
            form,
            lambda: owning.buy_vehicle(
                arrival, price=said["price"], paid_to=said["paid_to"], on=said["paid_on"],
                client_key=said["client_key"], by=request.actor, at=timezone.now(),
            ),
        )  # fmt: skip
        if stay is not None:
            messages.success(request, f"Bought and logged as {stay.stock_number}, the lot's own.")
            return redirect("own_vehicle", stay.stock_number)
    return render(request, "inventory/own/buy.html", {"form": form, "tab": "own"})


@require_GET
@staff_page(Act.OWN_STOCK)
def own_vehicle(request: StaffRequest, stock_number: str) -> HttpResponse:
    return _show(request, stock_number)


@require_POST
@staff_page(Act.OWN_STOCK)
def own_deed(request: StaffRequest, stock_number: str, deed: str) -> HttpResponse:
    desk = queries.own_desk(stock_number, today=timezone.localdate())
    form = _form(deed, desk=desk, data=request.POST)
    if form.is_valid() and attempt(form, lambda: _do(deed, form, desk=desk, request=request)) is not None:
        messages.success(request, _TOLD[deed])
        return redirect("own_vehicle", stock_number)
    return _show(request, stock_number, failed=(deed, form))


_TOLD = {
    "cost": "The cost is recorded.",
    "aside": "The cost is set aside. It stays in the list with your reason.",
    "close": "The sale is closed: the money is the lot's, and nobody else is to be paid.",
}


def _form(deed: str, *, desk: queries.OwnDesk, data: Any = None) -> BaseForm:
    if deed == "cost":
        return CostForm(data, auto_id="cost-%s")
    if deed == "aside":
        return AsideForm(data, costs=[(row.pk, f"{row}, {money.show(row.amount)}") for row in desk.standing])
    if deed == "close":
        return CloseForm(data, initial={"version": desk.vehicle.stay.version})
    raise Http404("There is no such deed.")


def _do(deed: str, form: Any, *, desk: queries.OwnDesk, request: StaffRequest) -> object:
    said = dict(form.cleaned_data)
    who: dict[str, Any] = {"by": request.actor, "at": timezone.now()}
    if deed == "cost":
        key = said.pop("client_key")
        return owning.add_cost(desk.vehicle.stay.pk, cost=Cost(**said), client_key=key, **who)
    if deed == "aside":
        return owning.set_cost_aside(said["cost"], reason=said["reason"], **who)
    return owning.close_sale(desk.vehicle.stay.pk, version=said["version"], **who)


def _show(request: StaffRequest, stock_number: str, *, failed: tuple[str, BaseForm] | None = None) -> HttpResponse:
    desk = queries.own_desk(stock_number, today=timezone.localdate())
    forms = {f"{deed}_form": _form(deed, desk=desk) for deed in _TOLD}
    if failed is not None:
        forms[f"{failed[0]}_form"] = failed[1]
    shown = {"desk": desk, "stay": desk.vehicle.stay, "here": "own", "failed": failed[0] if failed else "", **forms}
    return render(request, "inventory/own/vehicle.html", shown, status=422 if failed else 200)
