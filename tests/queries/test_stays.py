"""Stays as the fit of time to sale and the stock screen read them."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import partial
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.actions import agreeing, asking, charging, inquiring, offering, recording, selling
from inventory.actions.selling import Bargain
from inventory.bridge.frames import frame_of
from inventory.models import Consignment, ModelFit, PriceOpinion, SaleOutcome
from inventory.queries.exposure import exposure_of_stay
from inventory.queries.stays import listed_stock, stays_for_fit
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db
BY = build.BUILDER
ASK = Decimal("48500.00")


@pytest.fixture
def start(at: datetime) -> date:
    return build.trade_day(at)


def later(at: datetime, days: int) -> datetime:
    return at + timedelta(days=days)


def one(start: date, days: int) -> dict[str, Any]:
    (row,), left_out = stays_for_fit(on=start + timedelta(days=days))
    assert left_out == {}
    return row


def imported(count: int = 1, **columns: Any) -> None:
    told = {
        "result": "sold", "channel": "lot", "ended_on": date(2025, 6, 30), "price": ASK, "effective_price": ASK,
        "year": 1968, "make": "Merrow", "model": "Alder", "listed_on": date(2025, 6, 1), "first_ask": ASK,
        "by": "tests", "at": datetime.fromisoformat("2026-03-01T12:00:00+00:00"), **columns,
    }  # fmt: skip
    SaleOutcome.objects.bulk_create(SaleOutcome(**told) for _ in range(count))


def test_listed_stay_is_censored_today(at: datetime, start: date) -> None:
    stay = build.consignment(State.LISTED, at=at)
    asking.set_ask(stay.pk, amount=Decimal("46000.00"), by=BY, at=later(at, 20))
    row = one(start, 30)
    assert (row["end"], row["ended"], row["ended_on"]) == ("listed", None, start + timedelta(days=30))
    assert (row["stay_id"], row["outcome_id"], row["price"], row["channel"]) == (stay.pk, None, None, "lot")
    assert (row["exposed_days"], row["asks"]) == (30, [(0, ASK), (20, Decimal("46000.00"))])


def test_sold_stay_counts_the_day_of_its_sale(at: datetime, start: date) -> None:
    stay = build.consignment(State.LISTED, at=at)
    offer = offering.log_offer(stay.pk, amount=Decimal("48000.00"), bidder="Bo Larkin", by=BY, at=at)
    offering.log_offer(stay.pk, amount=Decimal("47000.00"), bidder="Cy Aldous", by=BY, at=at)
    bargain = Bargain(price=Decimal("48000.00"), concessions=Decimal("500.00"), buyer="Bo Larkin", offer_id=offer.pk)
    selling.mark_sold(stay.pk, bargain=bargain, by=BY, at=later(at, 12))
    row = one(start, 90)
    assert (row["end"], row["ended"], row["exposed_days"]) == ("sold", start + timedelta(days=12), 13)
    assert (row["price"], row["arms_length"], row["reason"]) == (Decimal("47500.00"), True, "")
    assert (row["offers"], row["best_offer"]) == (2, Decimal("47000.00"))


def test_sale_after_a_deposit_ends_its_exposure_on_the_day_the_deal_began(at: datetime, start: date) -> None:
    stay = build.consignment(State.LISTED, at=at)
    build.step_to(State.DEPOSIT, stay, at=later(at, 10), price=ASK)
    assert one(start, 14)["exposed_days"] == 11  # the day the deal began, and the ten before
    selling.mark_sold(stay.pk, by=BY, at=later(at, 15))
    row = one(start, 90)
    assert (row["exposed_days"], row["ended"]) == (11, start + timedelta(days=15))


def test_deal_that_fell_through_takes_its_days_out(at: datetime, start: date) -> None:
    stay = build.consignment(State.LISTED, at=at)
    build.step_to(State.DEPOSIT, stay, at=later(at, 10), price=ASK)
    selling.end_deal(stay.pk, reason="no loan", by=BY, at=later(at, 16))
    asking.set_ask(stay.pk, amount=Decimal("47000.00"), by=BY, at=later(at, 16))
    row = one(start, 20)
    assert row["exposed_days"] == 15  # 0 to 10, then 16 to 19
    assert row["asks"] == [(0, ASK), (11, Decimal("47000.00"))]


def test_days_in_the_shop_are_not_exposed(at: datetime, start: date) -> None:
    stay = build.consignment(State.LISTED, at=at)
    recording.record_place(stay.pk, place="Shop", not_for_sale=True, by=BY, at=later(at, 5))
    asking.set_ask(stay.pk, amount=Decimal("47000.00"), by=BY, at=later(at, 8))
    recording.record_place(stay.pk, place="Bay 4", by=BY, at=later(at, 12))
    row = one(start, 20)
    assert (row["exposed_days"], row["asks"]) == (13, [(0, ASK), (5, Decimal("47000.00"))])
    exposure = exposure_of_stay(Consignment.objects.get())
    assert exposure is not None
    assert exposure.days_before(start + timedelta(days=20)) == 13


def test_unwound_sale_is_no_end_and_its_days_are_closed(at: datetime, start: date) -> None:
    stay = build.consignment(State.LISTED, at=at)
    bargain = Bargain(price=ASK, buyer="Bo Larkin")
    selling.mark_sold(stay.pk, bargain=bargain, sold_on=start + timedelta(days=4), by=BY, at=later(at, 6))
    selling.unwind_sale(stay.pk, reason="no loan", by=BY, at=later(at, 10))
    rows, left_out = stays_for_fit(on=start + timedelta(days=12))
    assert left_out == {"set_aside": 1}
    assert [(row["end"], row["exposed_days"]) for row in rows] == [("listed", 7)]  # 0 to 4, then 10 and 11
    selling.mark_sold(stay.pk, bargain=bargain, by=BY, at=later(at, 12))
    assert [(row["end"], row["exposed_days"]) for row in stays_for_fit(on=start)[0]] == [("sold", 8)]


def test_withdrawn_stay_is_censored_with_its_reason(at: datetime, start: date) -> None:
    stay = build.consignment(State.LISTED, at=at)
    selling.withdraw(stay.pk, reason="price", by=BY, at=later(at, 9))
    row = one(start, 90)
    assert (row["end"], row["reason"], row["exposed_days"], row["price"]) == ("withdrawn", "price", 9, None)


def test_withdrawn_before_it_was_listed_is_left_out_and_counted(at: datetime, start: date) -> None:
    build.consignment(State.WITHDRAWN, at=at)
    assert stays_for_fit(on=start) == ([], {"no_listed_day": 1})


def test_imports_know_their_first_ask_alone(start: date) -> None:
    imported(last_ask=Decimal("45000.00"))
    row = one(start, 0)
    assert (row["stay_id"], row["exposed_days"], row["asks"]) == (None, 30, [(0, ASK)])  # 1 to 30 June
    assert (row["offers"], row["best_offer"]) == (0, None)


def asked(stay: Consignment, at: datetime, *days: int) -> None:
    for number, day in enumerate(days):
        log = inquiring.log_showing if number % 2 else partial(inquiring.log_inquiry, way="phone")
        log(stay.pk, by=BY, at=later(at, day))


def interest(start: date, days: int) -> dict[int | None, int | None]:
    return {row["stay_id"]: row["interest"] for row in stays_for_fit(on=start + timedelta(days=days))[0]}


def test_interest_is_counted_on_exposed_days_alone(at: datetime, start: date) -> None:
    """Of the days 0, 0, 4, 6, 12 and 19 the sixth lies in the shop; today, the 19th, is not over."""
    stay = build.consignment(State.LISTED, at=at)
    recording.record_place(stay.pk, place="Shop", not_for_sale=True, by=BY, at=later(at, 5))
    recording.record_place(stay.pk, place="Bay 4", by=BY, at=later(at, 12))
    asked(stay, at, 0, 0, 4, 6, 12, 19)
    assert interest(start, 19) == {stay.pk: 4}
    assert listed_stock(on=start + timedelta(days=20))[0].row["interest"] == 5


def test_interest_of_the_day_a_buyer_was_found_counts_and_that_under_deposit_does_not(
    at: datetime, start: date
) -> None:
    stay = build.consignment(State.LISTED, at=at)
    asked(stay, at, 0, 3, 10)
    build.step_to(State.DEPOSIT, stay, at=later(at, 10), price=ASK)
    asked(stay, at, 12)
    assert interest(start, 14) == {stay.pk: 3}
    selling.mark_sold(stay.pk, by=BY, at=later(at, 15))
    assert interest(start, 90) == {stay.pk: 3}


def test_interest_is_unknown_where_the_lot_counted_none_yet(at: datetime, start: date) -> None:
    """A stay that was listed before the lot began to count has a count of a part of its days: it would look unloved."""
    early = build.consignment(State.LISTED, at=at)
    imported()
    assert set(interest(start, 9).values()) == {None}
    asked(early, at, 10)
    quiet, busy = (build.consignment(State.LISTED, at=later(at, 10)) for _ in range(2))
    asked(busy, at, 12)
    assert interest(start, 20) == {None: None, early.pk: None, quiet.pk: 0, busy.pk: 1}


def test_channel_nobody_gave_stays_missing_for_a_sale_and_is_the_lot_for_what_was_withdrawn(start: date) -> None:
    imported(channel="")
    imported(channel="", result="withdrawn", price=None, effective_price=None)
    rows, _ = stays_for_fit(on=start)
    assert [(row["end"], row["channel"]) for row in rows] == [("sold", ""), ("withdrawn", "lot")]


def test_what_tells_nothing_is_counted_by_its_reason(start: date) -> None:
    imported(listed_on=None)
    imported(2, first_ask=None)
    imported(3, ended_on=date(2025, 5, 31))
    imported(ended_on=date(2025, 6, 1))
    rows, left_out = stays_for_fit(on=start)
    assert [row["exposed_days"] for row in rows] == [1]
    assert left_out == {"no_listed_day": 1, "no_ask": 2, "ended_before_listed": 3}


def test_rows_are_what_the_bridge_reads(at: datetime, start: date) -> None:
    build.consignment(State.LISTED, at=at)
    build.consignment(State.SOLD, at=at)
    imported()
    rows, _ = stays_for_fit(on=start)
    frame = frame_of(rows)
    assert list(frame["year"]) == [1968] * 3
    assert list(frame["ended_on"].map(str)) == ["2025-06-30", start.isoformat(), start.isoformat()]


STATES = (State.LISTED, State.SOLD, State.DEPOSIT)


def grow(count: int, *, at: datetime) -> None:
    """As many stays of each kind, each with two asks, an offer, interest, a charge, an opinion, a time in the shop."""
    fit = ModelFit.objects.first() or ModelFit.objects.create(
        learned={}, sales_used=40, sales_hash="0" * 64, newest_outcome_id=0, by="tests", at=at
    )
    for number in range(count):
        stay = build.consignment(State.LISTED, at=at)
        asking.set_ask(stay.pk, amount=Decimal("47000.00"), by=BY, at=later(at, 3))
        offering.log_offer(stay.pk, amount=Decimal("44000.00"), bidder="Cy Aldous", by=BY, at=at)
        inquiring.log_inquiry(stay.pk, way="phone", by=BY, at=at)
        inquiring.log_showing(stay.pk, by=BY, at=at)
        charging.add_charge(
            stay.pk, kind="repair", what="brakes", amount=Decimal(100), agreed_by="Ada Fenwick", by=BY, at=at
        )
        recording.record_place(stay.pk, place="Shop", not_for_sale=True, by=BY, at=later(at, 4))
        give_opinion(stay, fit=fit, at=at)
        if STATES[number % 3] != State.LISTED:
            build.step_to(STATES[number % 3], stay, at=later(at, 5), price=ASK)


def give_opinion(stay: Consignment, *, fit: ModelFit, at: datetime, likely: int = 45000) -> None:
    PriceOpinion.objects.create(
        consignment=stay, fit=fit, inputs={}, low=Decimal(40000), likely=Decimal(likely), high=Decimal(50000),
        coverage_percent=80, by="tests", at=at,
    )  # fmt: skip


def read_for_fit(on: date) -> int:
    return len(stays_for_fit(on=on)[0])


def read_stock(on: date) -> int:
    """With all that a line of a screen would touch."""
    lines = {f"{seen.stay.vehicle} {seen.stay.consignor} {seen.ask} {seen.floor.price}" for seen in listed_stock(on=on)}
    return len(lines)


@pytest.mark.parametrize(("read", "of_30"), [(read_for_fit, 30), (read_stock, 20)])
def test_takes_as_many_queries_with_30_stays_as_with_3(
    at: datetime, start: date, read: Callable[[date], int], of_30: int
) -> None:
    def count() -> tuple[int, int]:
        with CaptureQueriesContext(connection) as captured:
            seen = read(start + timedelta(days=9))
        return len(captured), seen

    grow(3, at=at)
    few, _ = count()
    grow(27, at=at)
    assert count() == (few, of_30)


def test_stock_is_what_is_listed_or_held_with_all_a_screen_says(at: datetime, start: date) -> None:
    grow(3, at=at)
    build.consignment(State.INSPECTED, at=at)
    listed, held = listed_stock(on=start + timedelta(days=9))
    assert (listed.stay.state, held.stay.state) == ("listed", "deposit")
    assert (listed.ask.amount, listed.exposed_days, held.exposed_days) == (Decimal("47000.00"), 4, 4)
    assert listed.row["asks"] == [(0, ASK), (3, Decimal("47000.00"))]
    assert listed.floor.price == Decimal("30000.00")
    assert listed.agreement_ends_on == start + timedelta(days=120)
    assert [charge.what for charge in listed.charges] == ["brakes"]
    assert (listed.row["best_offer"], listed.row["interest"]) == (Decimal("44000.00"), 2)


def test_stock_tells_the_last_band_and_the_one_it_was_listed_with(at: datetime, start: date) -> None:
    stay = build.consignment(State.LISTED, at=at)
    assert listed_stock(on=start)[0].opinion is None
    fit = ModelFit.objects.create(
        learned={}, sales_used=40, sales_hash="0" * 64, newest_outcome_id=0, by="tests", at=at
    )
    for days, likely in ((-9, 44000), (-2, 45000), (7, 46000)):
        give_opinion(stay, fit=fit, at=later(at, days), likely=likely)
    (seen,) = listed_stock(on=start + timedelta(days=8))
    assert seen.opinion is not None
    assert seen.opinion_at_listing is not None
    assert (seen.opinion.likely, seen.opinion_at_listing.likely) == (46000, 45000)


def test_floor_that_cannot_be_worked_out_is_a_question(at: datetime, start: date) -> None:
    stay = build.consignment(State.LISTED, at=at)
    lien = {"floor_kind": "net", "lien_amount": Decimal(9000), "lien_quoted_on": start, "lien_good_until": start}
    agreeing.agree_terms(stay.pk, terms=build.terms(at, lien_holder="Bank", **lien), by=BY, at=at)
    (seen,) = listed_stock(on=start + timedelta(days=9))
    assert (seen.floor.price, bool(seen.floor.question)) == (None, True)
