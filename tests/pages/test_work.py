"""The pages of work orders."""

from datetime import datetime
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.template.loader import render_to_string
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.actions import inspecting, working
from inventory.actions.inspecting import Finding
from inventory.actions.working import NewOrder
from inventory.models import Charge, Consignment, WorkOrder
from inventory.queries import status
from inventory.rules.catalogue import CHECKS
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.rules.words import Basis, BornBy
from tests import build
from tests.pages.browse import sign_in, text_of, url

pytestmark = pytest.mark.django_db

D = Decimal
FIRST = next(iter(CHECKS))


@pytest.fixture
def now() -> datetime:
    return timezone.now()


@pytest.fixture
def stay(now: datetime) -> Consignment:
    return build.consignment(State.INSPECTED, at=now)


def ordered(stay: Consignment, *, by: Actor, at: datetime) -> WorkOrder:
    order = NewOrder(what="Reline the brakes", checks=(FIRST,), borne_by=BornBy.LOT)
    return working.open_order(stay.pk, order=order, by=by, at=at)


def step(client: Client, row: WorkOrder, deed: str, **said: Any) -> Any:
    row.refresh_from_db()
    address = url(row.consignment, "work_step", code=row.code, deed=deed)
    return client.post(address, {"version": row.version, **said})


def test_order_goes_all_the_way_on_the_page(client: Client, owner: Actor, stay: Consignment) -> None:
    sign_in(client, owner)
    said = {"kind": "repair", "what": "Reline the brakes", "borne_by": "lot", "checks": [FIRST], "estimate": "1,200"}
    assert client.post(url(stay, "open_work"), said).status_code == 302
    row = WorkOrder.objects.get()
    assert (row.checks, row.estimate) == ([FIRST], D("1200.00"))
    assert step(client, row, "out", place="Lift 1").status_code == 302
    wrong = step(client, row, "back", place="")
    assert wrong.status_code == 422
    assert "This field is required." in text_of(wrong)
    step(client, row, "back", place="Bay 3", found="relined")
    assert step(client, row, "regrade")["Location"] == url(stay, "walk")
    page = text_of(client.get(url(stay, "walk")))
    assert "This looks again at what was worked on: Reline the brakes. 2 answers are carried over" in page
    station = CHECKS[list(CHECKS)[1]].code.partition(".")[0]
    assert "carried over: " in text_of(client.get(url(stay, "station", station=station)))
    inspecting.record_check(
        stay.pk, finding=Finding(check_code=FIRST, grade=4, basis=Basis.SEEN), by=owner, at=timezone.now()
    )
    assert client.post(url(stay, "finish_walk")).status_code == 302
    step(client, row, "invoice", amount="1,150.00", number="9")
    assert step(client, row, "charge").status_code == 302
    assert Charge.objects.get().amount == D("1150.00")
    page = text_of(client.get(url(stay, "work")))
    assert "a licensed mechanic" in page
    assert "graded again" in page
    assert "closed" in page


def test_step_that_does_not_fit_says_why(client: Client, owner: Actor, stay: Consignment, now: datetime) -> None:
    row = ordered(stay, by=owner, at=now)
    refused = step(sign_in(client, owner), row, "back", place="Bay 3")
    assert refused.status_code == 422
    assert "Begin it first." in text_of(refused)
    assert step(client, row, "nonsense").status_code == 404


def test_page_begins_with_what_a_what_if_supposed(client: Client, owner: Actor, stay: Consignment) -> None:
    sign_in(client, owner)
    supposed = client.get(url(stay, "what_if"), {"check_1": FIRST, "grade_1": "4", "cost": "300"})
    link = f"{url(stay, 'work')}?{supposed.context['order']}"
    assert "Open a work order for this" in text_of(supposed)
    form = client.get(link).context["open_form"]
    said = {name: form[name].value() for name in ("kind", "checks", "estimate")}
    assert said == {"kind": "repair", "checks": [FIRST], "estimate": "300.00"}
    assert form["started_from"].value().startswith(f"What if {CHECKS[FIRST].wording} graded 4")


def test_lists_take_as_many_queries_with_6_orders_as_with_1(
    client: Client, owner: Actor, stay: Consignment, now: datetime
) -> None:
    sign_in(client, owner)
    addresses = (reverse("work_orders"), url(stay, "work"), reverse("lot"))

    def counted() -> list[int]:
        counts = []
        for address in addresses:
            with CaptureQueriesContext(
                connection,
            ) as asked:
                assert client.get(address).status_code == 200
            counts.append(len(asked))
        return counts

    ordered(stay, by=owner, at=now)
    with_1 = counted()
    other = build.consignment(State.ON_LOT, at=now)
    for here in (stay, stay, stay, other, other):
        ordered(here, by=owner, at=now)
    assert counted() == with_1


def test_consignor_reads_the_work_beside_the_charges(owner: Actor, stay: Consignment, now: datetime) -> None:
    order = NewOrder(what="Reline the brakes", vendor="Pell", estimate=D("400.00"), started_from="What if")
    working.open_order(stay.pk, order=order, by=owner, at=now)
    ordered(stay, by=owner, at=now)
    page = status.page(stay, today=timezone.localdate())
    shown = render_to_string("inventory/status/_money.html", {"page": page, "account": page.account})
    assert "Reline the brakes, planned; you will be asked first; estimate $400.00" in shown
    assert "the lot bears it" in shown
    assert "Pell" not in shown
    assert "What if" not in shown


def test_today_leads_to_the_vehicle_whose_work_waits(
    client: Client, owner: Actor, stay: Consignment, now: datetime
) -> None:
    order = NewOrder(what="Reline the brakes", estimate=D("90.00"))
    working.open_order(stay.pk, order=order, by=owner, at=now)
    page = text_of(sign_in(client, owner).get(reverse("lot")))
    assert f'<a href="{url(stay, "work")}">Work waits for consent: Reline the brakes</a>' in page
