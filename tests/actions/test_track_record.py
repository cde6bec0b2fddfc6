"""Fits with their record, all stock priced in one batch, and the fit that a sale asks the worker for."""

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from typing import Any

import pytest
from django.core.management import call_command
from django.test.utils import CaptureQueriesContext
from pytest_django import Settings

from inventory.actions import pricing, selling, tasks
from inventory.errors import NotAllowed, Refused
from inventory.models import Job, LogEntry, ModelFit, PriceOpinion
from inventory.queries.history import stock_subjects, subject
from inventory.rules import track_record
from inventory.rules.money import total
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build, records

pytestmark = pytest.mark.django_db
SCORES = ("condition_low", "condition_high", "originality_low", "originality_high")


@pytest.fixture
def book(at: datetime) -> None:
    records.sold(24, at=at)


@pytest.fixture
def fit(book: None, owner: Actor, at: datetime) -> ModelFit:
    return pricing.fit_prices(by=owner, at=at, refits=0)


def test_fit_keeps_every_sale_with_the_band_it_would_have_had(owner: Actor, at: datetime) -> None:
    sales = records.sold(42, at=at)
    told: list[tuple[int, int]] = []
    fit = pricing.fit_prices(by=owner, at=at, refits=2, progress=lambda done, total: told.append((done, total)))
    tested, figures = fit.record["sales"], fit.record["figures"]
    assert [row["outcome"] for row in tested] == [sale.pk for sale in sales[30:]]
    assert [row["actual"] for row in tested] == [f"{sale.effective_price}.00" for sale in sales[30:]]
    assert {row["fitted_on"] for row in tested} == {30, 36}
    banded = [row for row in tested if row["low"] is not None]
    inside = [row for row in banded if Decimal(row["low"]) <= Decimal(row["actual"]) <= Decimal(row["high"])]
    assert (figures["count"], figures["banded"], figures["inside"]) == (12, len(banded), len(inside))
    assert (fit.summary["banded"], fit.summary["inside"]) == (len(banded), len(inside))
    assert len(fit.record["expected"]) == len(banded)
    assert fit.record["drift"][-1] == {"on": str(sales[-1].ended_on), "percent": 0.0}
    assert fit.flags == track_record.failings(figures)
    assert told == [(0, 2), (1, 2), (2, 2)]


def test_too_few_sales_have_a_fit_and_a_sentence(owner: Actor, at: datetime, book: None) -> None:
    fit = pricing.fit_prices(by=owner, at=at)
    assert fit.record["needed"].endswith("There are 24.")
    assert "figures" not in fit.record
    assert fit.flags == []


def test_fit_that_fails_is_kept_flagged_and_used(owner: Actor, at: datetime) -> None:
    fit = records.fit_with(records.record_of(records.sold(40, at=at), misses=25), at=at)
    assert "too narrow" in fit.flags[0]
    assert pricing.needed_fit() == fit


def test_fit_of_another_version_is_refused_with_what_to_do(owner: Actor, at: datetime) -> None:
    records.fit_with({}, at=at)
    stay = build.consignment(State.INSPECTED, at=at)
    with pytest.raises(Refused, match=r"another version of the price band.*Fit it again"):
        pricing.give_opinion(stay.pk, by=owner, at=at)


def test_stock_is_priced_as_each_vehicle_would_be_alone(fit: ModelFit, owner: Actor, at: datetime) -> None:
    stays = [build.consignment(state, at=at) for state in (State.ON_LOT, State.INSPECTED, State.LISTED, State.DEPOSIT)]
    gone = [build.consignment(state, at=at) for state in (State.BOOKED, State.SOLD, State.WITHDRAWN)]
    done = pricing.price_stock(by=owner, at=at)
    assert (done.priced, done.thin) == (4, 0)
    assert str(done) == "4 vehicles of the stock priced."
    assert not PriceOpinion.objects.filter(consignment__in=gone).exists()
    for stay in stays:
        batch = PriceOpinion.objects.get(consignment=stay)
        alone = pricing.give_opinion(stay.pk, by=owner, at=at)
        for name in ("low", "likely", "high", "inputs", "parts", "coverage_percent", "notes"):
            assert getattr(batch, name) == getattr(alone, name), name
        assert batch.evidence == pytest.approx(alone.evidence, rel=1e-9)  # summed in another order
        assert total(Decimal(part["amount"]) for part in batch.parts) == batch.likely


def test_opinions_before_are_kept_and_the_vehicles_log_shows_the_new_one(
    fit: ModelFit, owner: Actor, at: datetime
) -> None:
    stay = build.consignment(State.LISTED, at=at)
    first = pricing.give_opinion(stay.pk, by=owner, at=at)
    pricing.price_stock(by=owner, at=at)
    assert PriceOpinion.objects.filter(consignment=stay).count() == 2
    assert PriceOpinion.objects.get(pk=first.pk).likely == first.likely
    entries = LogEntry.objects.filter(consignment=stay, action="opinion.given").order_by("pk")
    newest = PriceOpinion.objects.latest("pk")
    assert [entry.subject_id for entry in entries] == [first.pk, newest.pk]
    assert entries[0].data == entries[1].data
    assert LogEntry.objects.get(action="stock.priced").data == {"priced": 1, "thin": 0}


def test_what_is_too_thin_gets_none_and_is_counted(fit: ModelFit, owner: Actor, at: datetime) -> None:
    known, _ = build.consignment(at=at), build.consignment(at=at, make="Never Seen", model="Ever")
    done = pricing.price_stock(by=owner, at=at)
    assert (done.priced, done.thin) == (1, 1)
    assert "for 1 the evidence is too thin" in str(done)
    assert PriceOpinion.objects.get().consignment == known


def test_stock_of_nothing_is_priced_at_once(fit: ModelFit, owner: Actor, at: datetime) -> None:
    assert pricing.price_stock(by=owner, at=at) == pricing.StockPriced(0, 0)


def test_stock_is_not_priced_without_a_fit_nor_by_sales_staff(owner: Actor, sales: Actor, at: datetime) -> None:
    with pytest.raises(Refused, match="needs at least 12"):
        pricing.price_stock(by=owner, at=at)
    with pytest.raises(NotAllowed):
        pricing.price_stock(by=sales, at=at)


def test_stock_is_read_and_priced_in_as_many_queries_for_30_as_for_3(
    fit: ModelFit, owner: Actor, at: datetime, django_assert_num_queries: Callable[..., CaptureQueriesContext]
) -> None:
    for count in (3, 27):
        for _ in range(count):
            build.consignment(State.INSPECTED, at=at)
        with django_assert_num_queries(12):
            pricing.price_stock(by=owner, at=at)


def test_batch_sees_each_vehicle_as_its_own_page_does(at: datetime) -> None:
    build.consignment(State.ON_LOT, at=at)
    stay = build.consignment(State.LISTED, at=at)
    build.recording.add_modification(
        stay.pk, kind="brakes", what="discs in front", fitting="bolt_on", workmanship=3, basis="seen", by=build.BUILDER,
        at=at,
    )  # fmt: skip
    build.inspect(stay, at=at, grade=1)
    build.asking.set_ask(stay.pk, amount=Decimal("47000.00"), by=build.BUILDER, at=at)
    found = stock_subjects(on=at.date())
    assert [row for _, row in found] == [subject(stay, on=at.date()) for stay, _ in found]
    last = found[-1][1]
    assert (last["modifications"], last["first_ask"], last["last_ask"]) == (
        ["brakes"], Decimal("48500.00"), Decimal("47000.00"),
    )  # fmt: skip
    assert all(last[name] is not None for name in SCORES)


@pytest.fixture
def with_worker(settings: Settings) -> None:
    settings.TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}


@pytest.mark.django_db(transaction=True)
def test_sale_asks_the_worker_for_one_fit(with_worker: None, book: None, sales: Actor, at: datetime) -> None:
    for _ in range(2):
        build.consignment(State.SOLD, at=at)
    job = Job.objects.get()
    assert (job.kind, job.status, job.asked_by) == ("fit", "queued", build.BUILDER.name)
    assert not ModelFit.objects.exists()  # nothing was fitted in the sale itself
    call_command("db_worker", batch=True, interval=0, verbosity=0)
    job.refresh_from_db()
    assert job.status == "done", job.message
    fit = ModelFit.objects.get()
    assert (fit.sales_used, fit.by) == (26, tasks.AFTER_A_SALE.name)
    assert "Fitted to 26 sales." in job.message


@pytest.mark.django_db(transaction=True)
def test_unwound_sale_asks_too_and_a_fit_made_meanwhile_is_enough(
    with_worker: None, book: None, owner: Actor, at: datetime
) -> None:
    stay = build.consignment(State.SOLD, at=at)
    Job.objects.update(status="done")
    selling.unwind_sale(stay.pk, reason="loan refused", by=owner, at=at)
    waiting = Job.objects.get(status="queued")
    assert waiting.asked_by == owner.name
    fit = pricing.fit_prices(by=owner, at=at, refits=0)
    tasks.run_fit.func(job_id=waiting.pk, actor={"kind": "command", "role": "owner", "name": "x", "id": None},
                       unless_fresh=True)  # fmt: skip
    waiting.refresh_from_db()
    assert waiting.message == "The last fit knows all sales already."
    assert ModelFit.objects.get() == fit


@pytest.mark.django_db(transaction=True)
def test_sale_that_is_rolled_back_asks_for_nothing(with_worker: None, book: None, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    with pytest.raises(Refused):
        selling.mark_sold(stay.pk, bargain=build.Bargain(price=Decimal("1.00"), buyer="Bo"), by=build.BUILDER, at=at)
    assert not Job.objects.exists()


def test_without_a_worker_a_sale_leaves_the_fit_stale(
    fit: ModelFit, at: datetime, django_capture_on_commit_callbacks: Any
) -> None:
    with django_capture_on_commit_callbacks(execute=True) as waiting:
        build.consignment(State.SOLD, at=at)
    assert not waiting
    assert not Job.objects.exists()
    assert ModelFit.objects.get() == fit


def test_too_few_sales_ask_for_no_fit(with_worker: None, at: datetime) -> None:
    build.consignment(State.SOLD, at=at)
    assert not Job.objects.exists()


def test_job_forgotten_by_the_worker_holds_nothing_back(with_worker: None, book: None, at: datetime) -> None:
    build.consignment(State.SOLD, at=at)
    Job.objects.update(asked_at=at - tasks.jobs.FORGOTTEN)
    build.consignment(State.SOLD, at=at)
    assert Job.objects.count() == 2


def test_button_fits_holds_against_the_sales_and_prices_the_stock(book: None, owner: Actor, at: datetime) -> None:
    build.consignment(State.INSPECTED, at=at)
    job = Job.objects.create(kind="fit", asked_by="x", asked_at=at)
    tasks.run_fit.func(job_id=job.pk, actor=tasks.jobs.actor_as_json(owner))
    job.refresh_from_db()
    assert job.status == "done"
    assert job.message == "Fitted to 24 sales. 1 vehicle of the stock priced."
    assert PriceOpinion.objects.count() == 1
