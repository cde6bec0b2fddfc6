"""The pages of the lot's own vehicles."""

from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.actions import owning
from inventory.actions.intake import Arrival
from inventory.models import Consignment, OwnCost
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build
from tests.pages.browse import sign_in, text_of, url

pytestmark = pytest.mark.django_db

D = Decimal


def bought(*, by: Actor, model: str = "Reed") -> Consignment:
    arrival = Arrival(year=1985, make="Pell", model=model)
    return owning.buy_vehicle(arrival, price=D("5000.00"), paid_to="Bo Larkin", by=by, at=timezone.now())


def test_bought_vehicle_stands_with_its_costs(client: Client, owner: Actor) -> None:
    sign_in(client, owner)
    said = {
        "year": "1985", "make": "Pell", "model": "Reed", "vin_read_off": "dash_plate", "odometer_status": "not_stated",
        "price": "5,000", "paid_to": "Bo Larkin",
    }  # fmt: skip
    assert "Give an amount." in text_of(client.post(reverse("buy_vehicle"), {**said, "price": ""}))
    stay = Consignment.objects.filter(stock_number=client.post(reverse("buy_vehicle"), said)["Location"].split("/")[2])
    here = stay.get()
    client.post(url(here, "own_deed", deed="cost"), {"kind": "transport", "amount": "250", "paid_to": "Ivo Castell"})
    cost = OwnCost.objects.get(kind="transport")
    assert client.post(url(here, "own_deed", deed="aside"), {"cost": cost.pk, "reason": ""}).status_code == 422
    client.post(url(here, "own_deed", deed="aside"), {"cost": cost.pk, "reason": "paid by the seller"})
    page = text_of(client.get(url(here, "own_vehicle")))
    assert "set aside: paid by the seller" in page
    assert "keep it out of the trust account" in page
    assert "$5,000.00" in text_of(client.get(reverse("own_stock")))
    assert '<span class="badge">own</span>' in page
    assert "there is nobody to settle with" in text_of(client.get(url(here, "settlement")))


def test_sale_is_closed_on_the_page_only_when_it_is_there_to_close(client: Client, owner: Actor) -> None:
    stay = bought(by=owner)
    refused = sign_in(client, owner).post(url(stay, "own_deed", deed="close"), {"version": stay.version})
    assert refused.status_code == 422
    assert "cannot become settled" in text_of(refused)
    others = build.consignment(State.ON_LOT, at=timezone.now())
    assert client.get(url(others, "own_vehicle")).status_code == 404


def test_list_takes_as_many_queries_with_5_as_with_1(client: Client, owner: Actor) -> None:
    sign_in(client, owner)
    bought(by=owner)
    counts = []
    for more in (0, 4):
        for number in range(more):
            bought(by=owner, model=f"Reed {number}")
        with CaptureQueriesContext(connection) as asked:
            assert client.get(reverse("own_stock")).status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]
