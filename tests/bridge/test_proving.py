"""A fit is tried before it is used; where it is of no use, the one before it stays."""

import copy
import math
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone

from inventory.actions import jobs, tasks
from inventory.bridge import why_unusable
from inventory.models import Job, ModelFit, SaleOutcome
from inventory.rules import track_record
from inventory.rules.roles import command
from valuation import to_dict, vehicle_model
from valuation.simulate import as_inputs, simulate

BOOK = simulate(40, ending_on=date(2026, 3, 1), seed=3).sales
SOLD = BOOK[BOOK["result"] == "sold"]
ROWS = [{"year": 1968, "make": "Merrow", "model": "Alder", "ended_on": date(2026, 3, 2), "channel": "lot"}]


@pytest.fixture(scope="module")
def state() -> dict[str, Any]:
    model = vehicle_model(coverage=0.8)
    return to_dict(model.fit(as_inputs(SOLD).drop(columns=["price"]), SOLD["price"]))


def test_sound_fit_may_be_used(state: dict[str, Any]) -> None:
    assert why_unusable(state, rows=ROWS) == ""


def test_fit_that_holds_no_number_is_told(state: dict[str, Any]) -> None:
    assert "cannot be stored" in why_unusable(state, rows=ROWS, beside=[{"share": math.nan}])
    assert "cannot be stored" in why_unusable({**state, "version": 0}, rows=ROWS)


def test_fit_without_sound_prices_is_told(state: dict[str, Any]) -> None:
    broken = copy.deepcopy(state)
    weights = broken["fitted"]["additive_"]["weights"]
    weights["array"] = [1e6, *weights["array"][1:]]  # e to the millionth is no price
    assert "no sound price for 1 of 1" in why_unusable(broken, rows=ROWS)


@pytest.mark.django_db
def test_unusable_fit_fails_its_job_with_a_sentence_and_the_old_one_stays() -> None:
    now = timezone.now()
    old = ModelFit.objects.create(
        learned={}, sales_used=12, sales_hash="x", newest_outcome_id=0, by="x", at=now, summary={"coverage_percent": 80}
    )
    prices = [Decimal("0.01"), Decimal("9999999999.99")] * 8  # a band from these reaches beyond any money
    SaleOutcome.objects.bulk_create(
        SaleOutcome(
            result="sold", price=price, effective_price=price, ended_on=date(2026, 1, 1 + number), year=1968,
            make="Merrow", model="Alder", by="x", at=now,
        )
        for number, price in enumerate(prices)
    )  # fmt: skip
    job = Job.objects.create(kind="fit", asked_by="x", asked_at=now)
    tasks.run_fit.call(job_id=job.pk, actor=jobs.actor_as_json(command("tests")))
    job.refresh_from_db()
    assert job.status == "failed"
    assert "no sound price" in job.message
    assert "stays in use" in job.message
    assert list(ModelFit.objects.values_list("pk", flat=True)) == [old.pk]


def test_long_history_is_said_to_be_read_in_part() -> None:
    assert track_record.bounded_note(track_record.MOST_READ) == ""
    assert "the last 20,000 sales, not from all 175,000" in track_record.bounded_note(175_000)
