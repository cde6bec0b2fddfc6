"""The stock page with 1,000 listed vehicles, beside a bare JSON answer of the same run. Run by hand:

    python -m pytest -n 0 -s tests/bench/stock_bench.py

Rows are written in bulk, round the actions: it is the page that is measured.
"""

import json
import statistics
from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from time import process_time

import numpy as np
import pytest
from django.http import HttpRequest, JsonResponse
from django.test import Client
from django.urls import path
from django.utils import timezone

from inventory.models import AskChange, Consignment, Consignor, PriceOpinion, Terms, Vehicle
from inventory.pages.urls import urlpatterns as pages
from inventory.rules.roles import Role
from inventory.rules.states import State
from tests import build
from tests.queries.test_stock import fitted

COUNT, TIMES = 1_000, 5


def bare(request: HttpRequest) -> JsonResponse:
    return JsonResponse({"listed": Consignment.objects.count()})


urlpatterns = [*pages, path("bare.json", bare)]


def stock(count: int, *, at: datetime, seed: int = 1) -> None:
    rng = np.random.default_rng(seed)
    likely = [Decimal(int(price)) for price in np.exp(rng.normal(10.4, 0.5, count)).round(-2)]
    exposed = [int(days) for days in rng.integers(1, 100, count)]
    owner = Consignor.objects.create(name="Wilhelmina van der Brocklehurst-Featherstonehaugh", phone="1", created_at=at)
    vehicles = Vehicle.objects.bulk_create(
        Vehicle(year=1950 + number % 40, make="Merrow", model=f"Alder {number % 17}", created_at=at)
        for number in range(count)
    )
    stays = Consignment.objects.bulk_create(
        Consignment(
            stock_number=f"B-{number:05}", vehicle=vehicle, consignor=owner, state=State.LISTED, state_at=at,
            state_by="bench", booked_on=at.date(), arrived_on=at.date() - timedelta(days=exposed[number] + 5),
            listed_on=at.date() - timedelta(days=exposed[number]),
        )
        for number, vehicle in enumerate(vehicles)
    )  # fmt: skip
    _beside(stays, likely=likely, ratios=rng.uniform(0.9, 1.4, count), at=at)


def _beside(stays: list[Consignment], *, likely: list[Decimal], ratios: "np.ndarray", at: datetime) -> None:
    """Terms, asks and opinions of each."""
    fit, day = fitted(at), at.date()
    Terms.objects.bulk_create(
        Terms(
            consignment=stay, number=1, plan_kind="percent", rate=Decimal(9), floor=price * Decimal("0.75"), by="bench",
            starts_on=day - timedelta(days=100), ends_on=day + timedelta(days=1 + number % 180), at=at,
        )
        for number, (stay, price) in enumerate(zip(stays, likely, strict=True))
    )  # fmt: skip
    AskChange.objects.bulk_create(
        AskChange(
            consignment=stay, amount=Decimal(int(float(price) * ratio)), on=stay.listed_on, by="bench", at=at
        )
        for stay, price, ratio in zip(stays, likely, ratios, strict=True)
    )  # fmt: skip
    PriceOpinion.objects.bulk_create(
        PriceOpinion(
            consignment=stay, fit=fit, inputs={}, low=price * Decimal("0.8"), likely=price,
            high=price * Decimal("1.25"), coverage_percent=80, by="bench", at=at,
        )
        for stay, price in zip(stays, likely, strict=True)
    )  # fmt: skip


def took(deed: Callable[[], object]) -> float:
    """Milliseconds of processor time, the median of some times: other work beside it does not count."""
    deed()
    times = []
    for _ in range(TIMES):
        begun = process_time()
        deed()
        times.append(1000 * (process_time() - begun))
    return statistics.median(times)


@pytest.mark.django_db
@pytest.mark.urls(__name__)
def test_page_of_a_thousand_is_quick_and_small(client: Client) -> None:
    now = timezone.now()
    build.staff(Role.OWNER, at=now)
    build.sign_in(client, username="the-owner")
    stock(COUNT, at=now)
    answer = client.get("/stock/")
    assert answer.content.count(b"<tr>") >= COUNT
    page, plain = took(lambda: client.get("/stock/")), took(lambda: client.get("/bare.json"))
    print(json.dumps({
        "vehicles": COUNT, "page_ms": round(page), "bare_json_ms": round(plain, 1), "ratio": round(page / plain),
        "html_bytes": len(answer.content),
    }))  # fmt: skip
    assert len(answer.content) < 1_500_000
