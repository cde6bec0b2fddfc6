"""The stock screen's figures: in which order, why some have none, and in how many queries."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import cache
from typing import Any

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.actions import agreeing, asking, charging, offering
from inventory.models import Consignment, ModelFit, PriceOpinion
from inventory.queries.stock import StockPage, Wanted, stock_page
from inventory.rules.states import State
from inventory.rules.waiting import StockOrder
from tests import build
from valuation.simulate_stays import simulate_stays
from valuation.time_to_sale import TimeToSale

pytestmark = pytest.mark.django_db
BY = build.BUILDER
LIKELY = Decimal("42000.00")


@pytest.fixture
def now() -> datetime:
    return timezone.now()


@cache
def selling() -> dict[str, Any]:
    """What was learned of an invented lot: fitted once for a whole module."""
    drawn = simulate_stays(120, ending_on=date(2026, 3, 10), seed=4)
    likely = np.exp(drawn.truth["median"])
    learned: dict[str, Any] = TimeToSale().fit(drawn.stays.assign(likely=likely, sd=0.12)).to_dict()
    return learned


def fitted(at: datetime, *, state: dict[str, Any] | None = None) -> ModelFit:
    return ModelFit.objects.create(
        learned={}, selling=selling() if state is None else state, sales_used=80, sales_hash="", by="tests", at=at,
        newest_outcome_id=0,
    )  # fmt: skip


def opinion(stay: Consignment, *, fit: ModelFit, likely: Decimal = LIKELY) -> PriceOpinion:
    return PriceOpinion.objects.create(
        consignment=stay, fit=fit, inputs={}, low=likely * Decimal("0.80"), likely=likely,
        high=likely * Decimal("1.25"), coverage_percent=80, by="tests", at=fit.at,
    )  # fmt: skip


def listed(fit: ModelFit, *, price: str = "44000.00", state: State = State.LISTED, **arrival: Any) -> Consignment:
    stay = build.consignment(state, at=fit.at, price=price, **arrival)
    opinion(stay, fit=fit)
    return stay


def page(*, days: int = 0, text: str = "", order: StockOrder = StockOrder.LOST) -> StockPage:
    return stock_page(Wanted(text, order), on=timezone.localdate() + timedelta(days=days))


def test_row_says_what_may_come_of_its_ask(now: datetime) -> None:
    stay = listed(fitted(now))
    (row,) = page(days=35).rows
    assert (row.plain.stock_number, row.plain.ask, row.plain.exposed_days) == (
        stay.stock_number, Decimal("44000.00"), 35
    )  # fmt: skip
    assert row.ratio == row.plain.ask / (row.plain.likely or 1)
    assert 0 < row.chance < 1
    assert 0 < row.days <= 85  # of the 120 of the agreement 35 are over
    assert row.plain.low is not None
    assert row.plain.low < (row.plain.likely or 0) < LIKELY
    assert row.moved.startswith("−")
    assert any("5 weeks without a sale" in why for why in row.why)


def raised(fit: ModelFit, *, to: str, at: datetime) -> Consignment:
    """Listed at a usual ask and raised since: a dear first ask would be read as a sign of a better vehicle."""
    stay = listed(fit)
    asking.set_ask(stay.pk, amount=Decimal(to), by=BY, at=at)
    return stay


def test_ask_far_too_high_loses_by_waiting_and_comes_first(now: datetime) -> None:
    fit = fitted(now - timedelta(days=60))
    listed(fit)
    dear = raised(fit, to="95000.00", at=now)
    found = page()
    assert found.rows[0].plain.stock_number == dear.stock_number
    assert found.rows[0].lost > 500
    assert found.rows[0].best_said.startswith("best ask $")
    assert found.lost == sum(row.lost for row in found.rows)


def test_ask_at_a_floor_above_all_others_stays_and_loses_nothing(now: datetime) -> None:
    stay = listed(fitted(now - timedelta(days=60)))
    agreeing.agree_terms(stay.pk, terms=build.terms(now, floor=Decimal("44000.00")), by=BY, at=now)
    (row,) = page().rows
    assert (row.best_said, row.lost) == ("ask as it is", 0)


@pytest.mark.parametrize("order", list(StockOrder))
def test_order_is_worst_first(now: datetime, order: StockOrder) -> None:
    fit = fitted(now - timedelta(days=20))
    listed(fit, price="40000.00")
    listed(fit, price="58000.00")
    later = build.consignment(State.LISTED, at=now, price="47000.00")
    opinion(later, fit=fit)
    figures = {
        StockOrder.LOST: [-row.lost for row in page(order=order).rows],
        StockOrder.CHANCE: [row.chance for row in page(order=order).rows],
        StockOrder.EXPOSED: [-row.plain.exposed_days for row in page(order=order).rows],
        StockOrder.RATIO: [-row.ratio for row in page(order=order).rows],
    }[order]
    assert figures == sorted(figures)
    assert len(set(figures)) > 1


def test_vehicle_without_opinion_is_told_apart_with_the_reason(now: datetime) -> None:
    fitted(now)
    build.consignment(State.LISTED, at=now)
    found = page()
    assert found.rows == ()
    assert [plain.likely for plain in found.others] == [None]
    assert "no price opinion yet" in found.others[0].reason


def test_vehicle_whose_agreement_ended_is_told_apart(now: datetime) -> None:
    listed(fitted(now))
    assert "Its agreement ended on" in page(days=121).others[0].reason
    assert page(days=120).rows  # its last day still counts


def test_floor_that_no_price_can_leave_is_told_apart(now: datetime) -> None:
    stay = listed(fitted(now))
    far = build.terms(now, floor=Decimal("9099999999.99"), floor_kind="net")
    agreeing.agree_terms(stay.pk, terms=far, by=BY, at=now)
    charging.add_charge(
        stay.pk, kind="detail", what="Detail", amount=Decimal("350.00"), agreed_by="Ada Fenwick", by=BY, at=now
    )  # fmt: skip
    (plain,) = page().others
    assert plain.reason.startswith("Its floor cannot be worked out. No price leaves")


def test_stay_without_terms_is_told_apart(now: datetime) -> None:
    stay = build.consignment(State.INSPECTED, at=now)
    asking.set_ask(stay.pk, amount=Decimal("44000.00"), by=BY, at=now)
    opinion(stay, fit=fitted(now))
    Consignment.objects.update(state=State.LISTED, listed_on=timezone.localdate())  # no move leads there
    assert page().others[0].reason.startswith("No terms are recorded")


@pytest.mark.parametrize("slip", ["9999999999.00", "30000.00"])
def test_ask_far_from_the_band_does_not_break_the_page(now: datetime, slip: str) -> None:
    fit = fitted(now - timedelta(days=60))
    raised(fit, to=slip, at=now)
    (row,) = page().rows
    assert 0 <= row.chance <= 1
    assert row.best_said.startswith("best ask $")


def test_thin_lot_shows_bands_and_says_why_there_are_no_chances(now: datetime) -> None:
    listed(fitted(now, state={}))
    found = page()
    assert found.rows == ()
    assert found.thin
    assert found.others[0].ratio == Decimal("44000.00") / LIKELY


def test_lot_without_a_fit_says_so(now: datetime) -> None:
    build.consignment(State.LISTED, at=now)
    assert page().thin == ("The price band has not been fitted to past sales yet.",)


def test_fit_of_another_version_is_told_not_raised(now: datetime) -> None:
    listed(fitted(now, state={**selling(), "version": 0}))
    assert "made by another version" in page().thin[0]


def test_held_vehicle_is_apart_and_counts_for_nothing(now: datetime) -> None:
    fit = fitted(now)
    listed(fit)
    held = listed(fit, state=State.DEPOSIT)
    found = page()
    assert [plain.stock_number for plain in found.held] == [held.stock_number]
    assert (found.listed, found.held_count, len(found.rows)) == (1, 1, 1)
    assert 0 < found.unsold < 1


def test_search_takes_all_words_in_any_order(now: datetime) -> None:
    fit = fitted(now)
    one = listed(fit, model="Alder", consignor_name="Ada Fenwick")
    listed(fit, model="Brisling", consignor_name="Bo Straße")
    assert [row.plain.stock_number for row in page(text="FENWICK alder").rows] == [one.stock_number]
    assert len(page(text="strasse").rows) == 1
    assert page(text="alder strasse").rows == ()
    assert page(text="alder").listed == 2  # the head still says how many there are


def test_best_offer_is_named_as_evidence(now: datetime) -> None:
    stay = listed(fitted(now))
    offering.log_offer(stay.pk, amount=Decimal("30000.00"), bidder="Cy Aldous", by=BY, at=now)
    assert any(why.startswith("best offer $30,000: −") for why in page().rows[0].why)


def test_queries_are_as_many_for_30_as_for_3(now: datetime) -> None:
    fit = fitted(now)
    counted = []
    for count in (3, 27):
        for _ in range(count):
            listed(fit)
        with CaptureQueriesContext(connection) as captured:
            found = page()
        counted.append((len(found.rows), len(captured)))
    assert [rows for rows, _ in counted] == [3, 30]
    assert counted[0][1] == counted[1][1]
