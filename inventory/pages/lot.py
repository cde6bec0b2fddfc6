"""The lot, and a vehicle that arrives."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.actions import intake
from inventory.actions.intake import Arrival
from inventory.forms.lot import ArrivalForm, LotSearch
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.pages.choosing import choices_of
from inventory.queries import consents
from inventory.queries import lot as queries
from inventory.queries.facts import the_lot
from inventory.queries.floor_today import floor_today
from inventory.queries.messages import unsent
from inventory.rules.roles import Act


@require_safe
@staff_page(Act.SEE_LOT)
def lot(request: StaffRequest) -> HttpResponse:
    search = LotSearch(request.GET)
    if "go" in request.GET and (only := queries.the_only(_filters(search).text)):
        return redirect("vehicle_file", only)
    looking = queries.Looking(by=request.actor, lot=the_lot(), today=timezone.localdate())
    page, rows = queries.lot_page(_filters(search), number=request.GET.get("page", "1"), looking=looking)
    waiting, first = queries.today_rows(looking)
    floor = floor_today(by=request.actor, at=timezone.now())
    with_consignors = consents.waiting(by=request.actor, today=looking.today)
    mails = unsent(by=request.actor, today=looking.today)
    shown = {
        "search": search, "page": page, "rows": rows, "tallies": queries.tallies(), "waiting": waiting,
        "today": first, "narrowed": any(search.data.get(name) for name in search.fields),
        "query": _query_without_page(request), "unsent": mails,
        "floor": floor, "with_consignors": with_consignors,
        "wanted": waiting + len(floor) + len(with_consignors) + bool(mails),
    }  # fmt: skip
    return render(request, "inventory/lot/page.html", shown)


def _filters(search: LotSearch) -> queries.Filters:
    search.is_valid()  # a word that does not fit is told on its field, the others still narrow the list
    given: dict[str, Any] = search.cleaned_data
    return queries.Filters(
        text=given.get("q", ""), state=given.get("state", ""), here_only=not given.get("gone"),
        today_only=bool(given.get("today")),
    )  # fmt: skip


def _query_without_page(request: StaffRequest) -> str:
    rest = request.GET.copy()
    rest.pop("page", None)
    return rest.urlencode()


@staff_page(Act.LOG_VEHICLE)
def log_vehicle(request: StaffRequest) -> HttpResponse:
    form = ArrivalForm(request.POST or None, consignors=choices_of(request.POST))
    if form.is_valid():
        arrival = Arrival(**form.cleaned_data)
        stay = attempt(form, lambda: intake.log_vehicle(arrival, by=request.actor, at=timezone.now()))
        if stay is not None:
            messages.success(request, f"Logged as {stay.stock_number}.")
            return redirect("vehicle_file", stay.stock_number)
    return render(request, "inventory/lot/log_vehicle.html", {"form": form})
