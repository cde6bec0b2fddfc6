"""What may come of each ask, through the database: stays, terms, opinions and a fit that has learned of selling."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory import bridge
from inventory.actions import agreeing, asking, charging, offering, pricing
from inventory.models import Consignment, ModelFit, PriceOpinion
from inventory.queries import ask_desk, ask_offers, facts, prospects
from inventory.queries.ask_desk import Curve, Situation, Step, View
from inventory.queries.ask_page import page_of
from inventory.queries.stays import followed_first, stays_for_fit
from inventory.rules.money import round_money
from inventory.rules.states import State
from inventory.rules.suggested import Suggested
from inventory.rules.terms import LineKind
from inventory.rules.words import Objective
from tests import askings, build

pytestmark = pytest.mark.django_db
BY = build.BUILDER
STALE = {"lien_holder": "Tarn Credit Union", "lien_amount": Decimal("9000.00")}
PLANS: dict[str, dict[str, Any]] = {
    "percent": {},
    "least": {"plan_kind": "percent_with_minimum", "minimum": Decimal("4800.00")},
    "tiers": {"plan_kind": "tiered", "rate": None, "tiers": [(Decimal(20000), Decimal(12)), (None, Decimal(7))]},
    "flat": {"plan_kind": "flat", "rate": None, "flat": Decimal("2500.00")},
    "net": {"plan_kind": "guaranteed_net", "rate": None, "guaranteed_net": Decimal("31000.00")},
}


@pytest.fixture
def fit(at: datetime) -> ModelFit:
    return askings.fitted(at)


@pytest.fixture
def stay(fit: ModelFit, at: datetime) -> Consignment:
    return priced(build.consignment(State.LISTED, at=at, price="42000.00"), at=at)


def priced(stay: Consignment, *, at: datetime) -> Consignment:
    pricing.give_opinion(stay.pk, by=BY, at=at)
    return stay


def day(at: datetime, days: int = 0) -> date:
    return build.trade_day(at) + timedelta(days=days)


def here_of(stay: Consignment, *, on: date) -> Situation:
    return ask_desk.situation_of(Consignment.objects.get(pk=stay.pk), fit=ModelFit.objects.last(), today=on)


def curve(stay: Consignment, *, on: date, **view: Any) -> Curve:
    here = here_of(stay, on=on)
    return ask_desk.curve_of(here, view=replace(here.usual, **view))


@pytest.mark.parametrize(
    ("ask", "weeks", "step"),
    [("31000.00", 0, None), ("42000.00", 9, Step(percent=85, after_days=20)), ("64000.00", 16, None)],
)
def test_chance_never_rises_with_the_ask(fit: ModelFit, at: datetime, ask: str, weeks: int, step: Step | None) -> None:
    stay = priced(build.consignment(State.LISTED, at=at, price=ask), at=at)
    offer = offering.log_offer(stay.pk, amount=Decimal("30500.00"), bidder="Bo Larkin", by=BY, at=at)
    offering.answer_offer(offer.pk, answer="refused", by=BY, at=at)
    rows = curve(stay, on=day(at, 7 * weeks), step=step).rows
    assert len(rows) >= 30
    for cheaper, dearer in pairwise(rows):
        for less, more in zip(dearer.chances, cheaper.chances, strict=True):
            assert less.likely <= more.likely + 1e-12
    assert rows[-1].end.likely < rows[0].end.likely
    assert all(0 <= chance.low <= chance.likely <= chance.high <= 1 for row in rows for chance in row.chances)


@pytest.mark.parametrize("plan", PLANS)
def test_expected_net_is_the_settlements_own_weighted_by_the_chances(fit: ModelFit, at: datetime, plan: str) -> None:
    stay = priced(build.consignment(State.LISTED, at=at, price="42000.00"), at=at)
    agreeing.agree_terms(stay.pk, terms=build.terms(at, **PLANS[plan]), by=BY, at=at)
    charging.add_charge(
        stay.pk, kind="repair", what="brakes", amount=Decimal("311.11"), agreed_by="Ada Fenwick", by=BY, at=at
    )
    found = curve(stay, on=day(at, 10), cost_per_day=Decimal("11.50"))
    here, row = found.here, found.rows[12]
    (prospect,) = bridge.prospects_of(
        here.needed.standing, ways=[bridge.Asking(ask=row.ask)], days=(30,), last_day=here.days_left,
        floor=here.floor.price, state=here.state,
    )  # fmt: skip
    terms = here.terms
    assert terms is not None

    def statement(price: Decimal) -> Any:
        return facts.statement_at(price, terms=terms, charges=here.charges, on=here.today)

    owed = statement(Decimal("0.00")).sum_of(LineKind.CHARGE)
    assert owed == Decimal("-311.11")
    kept = round_money(prospect.unsold_value * here.lot.unsold_worth_percent / 100) + owed
    assert sum(share for _, share in prospect.prices) + prospect.unsold == 1
    net = sum(share * statement(price).due for price, share in prospect.prices) + prospect.unsold * kept
    gross = sum(share * statement(price).lot_gross for price, share in prospect.prices)
    assert row.net == round_money(net)
    assert row.gross == round_money(gross - Decimal("11.50") * prospect.days)


def test_net_sheet_is_the_statement_to_the_cent(stay: Consignment, at: datetime) -> None:
    found = curve(stay, on=day(at, 10))
    nets, terms = ask_offers.net_sheet(found), found.here.terms
    assert terms is not None
    assert [net.label for net in nets] == [
        "At the floor", "Band now: low", "Band now: likely", "Band now: high", "At the ask", "At the suggested ask",
    ]  # fmt: skip
    for net in nets:
        assert net.statement == facts.statement_at(net.price, terms=terms, charges=[], on=day(at, 10))


@pytest.mark.parametrize("objective", Objective)
def test_suggestion_is_a_row_at_or_above_the_floor_and_within_what_was_asked(
    stay: Consignment, at: datetime, objective: Objective
) -> None:
    found = curve(stay, on=day(at, 10), objective=objective)
    row, selling = found.suggested, found.here.needed.selling
    assert row is not None
    assert row.ask >= Decimal("30000.00")
    assert row.ask <= found.moved.likely * Decimal(str(selling.asked_high))
    assert "suggested" in row.marks
    rows = [
        r
        for r in found.rows
        if r.ask >= Decimal("30000.00") and r.ask <= found.moved.likely * Decimal(str(selling.asked_high))
    ]
    if objective == Objective.CONSIGNOR_NET:
        assert row.net == max(r.net for r in rows if r.net is not None)
    if objective == Objective.LOT_GROSS:
        assert row.gross == max(r.gross for r in rows if r.gross is not None)


def test_ask_floor_and_suggestion_are_on_the_curve(stay: Consignment, at: datetime) -> None:
    found = curve(stay, on=day(at, 10))
    marks = [mark for row in found.rows for mark in row.marks]
    assert sorted(marks) == ["ask now", "floor", "suggested"]
    assert found.waiting is not None
    assert found.waiting.ask == Decimal("42000.00")


def test_weeks_without_a_sale_move_the_band_down_and_say_so(stay: Consignment, at: datetime) -> None:
    fresh, stale = curve(stay, on=day(at)), curve(stay, on=day(at, 100))
    assert stale.moved.likely < fresh.moved.likely
    assert any("14 weeks for sale" in said for said in stale.why_moved)
    assert not any("week" in said for said in fresh.why_moved)


def test_followed_suggestion_is_no_evidence(fit: ModelFit, at: datetime) -> None:
    stay = priced(build.consignment(State.INSPECTED, at=at), at=at)
    told = Suggested(amount=Decimal("39900.00"), objective="lot_gross", because="x")
    build.make_listable(stay, at=at, ask=Decimal("40000.00"))
    assert not followed_first(here_of(stay, on=day(at)).asks)
    other = priced(build.consignment(State.INSPECTED, at=at), at=at)
    asking.set_ask(other.pk, amount=Decimal("40000.00"), suggestion=told, by=BY, at=at)
    build.make_listable(other, at=at, ask=Decimal("40000.00"))
    for row in (stay, other):
        asking.list_vehicle(row.pk, by=BY, at=at)
    assert [row["followed"] for row in stays_for_fit(on=day(at, 3))[0]] == [False, True]
    free, led = curve(stay, on=day(at)), curve(other, on=day(at))
    assert any("The ask itself" in said for said in free.why_moved)
    assert led.why_moved == ()
    assert led.moved.likely == led.here.needed.band.likely


def test_ask_before_listing_is_no_evidence_yet(fit: ModelFit, at: datetime) -> None:
    stay = priced(build.consignment(State.INSPECTED, at=at), at=at)
    build.make_listable(stay, at=at, ask=Decimal("55000.00"))
    found = curve(stay, on=day(at, 3))
    assert found.moved.likely == found.here.needed.band.likely
    assert found.here.ask == Decimal("55000.00")


def test_offer_in_hand_is_not_evidence_against_itself(stay: Consignment, at: datetime) -> None:
    without = curve(stay, on=day(at, 10))
    offer = offering.log_offer(stay.pk, amount=Decimal("30000.00"), bidder="Bo Larkin", by=BY, at=at)
    in_hand = curve(stay, on=day(at, 10))
    assert in_hand.moved == without.moved
    (weighed,) = ask_offers.offers_in_hand(in_hand)
    assert (weighed.label, weighed.amount) == ("Offer of Bo Larkin", Decimal("30000.00"))
    offering.answer_offer(offer.pk, answer="refused", by=BY, at=at)
    refused = curve(stay, on=day(at, 10))
    assert ask_offers.offers_in_hand(refused) == ()
    assert any("$30,000" in said for said in refused.why_moved)


def test_break_even_offer_leaves_what_waiting_can_expect(stay: Consignment, at: datetime) -> None:
    found = curve(stay, on=day(at, 10), offer=Decimal("33000.00"))
    (row,) = ask_offers.offers_in_hand(found)
    weighed, terms = row.weighed, found.here.terms
    assert weighed is not None
    assert terms is not None
    due = facts.statement_at(weighed.break_even, terms=terms, charges=[], on=day(at, 10)).due
    assert 0 <= due - weighed.net_waiting <= Decimal("0.01")
    assert weighed.net_today == Decimal("30030.00")  # 91 % of 33,000
    assert [counter.price for counter in weighed.counters] == [Decimal("36000.00"), Decimal("39000.00")]
    assert not weighed.below_floor


def test_offer_below_the_floor_is_said_to_be(stay: Consignment, at: datetime) -> None:
    (row,) = ask_offers.offers_in_hand(curve(stay, on=day(at, 10), offer=Decimal("29999.99")))
    assert row.weighed is not None
    assert row.weighed.below_floor


def test_step_down_is_told_beside_none(stay: Consignment, at: datetime) -> None:
    found = curve(stay, on=day(at, 10), step=Step(percent=80, after_days=21))
    assert found.suggested is not None
    assert found.without_step is not None
    assert found.suggested.end.likely > found.without_step.end.likely
    assert found.suggested.step_to is not None
    assert all(row.step_to is None or Decimal("30000.00") <= row.step_to < row.ask for row in found.rows)


def test_no_terms_gives_chances_without_money(fit: ModelFit, at: datetime) -> None:
    stay = priced(build.consignment(State.INSPECTED, at=at), at=at)
    found = curve(stay, on=day(at))
    assert found.here.days_left == prospects.USUAL_DAYS
    assert "No terms are agreed" in found.here.no_end
    assert {(row.net, row.gross) for row in found.rows} == {(None, None)}
    assert found.suggestion is None
    assert "No terms are agreed" in found.no_suggestion
    assert curve(stay, on=day(at), objective=Objective.SELL_BY).suggestion is not None
    assert ask_offers.net_sheet(found) == ()


def test_ended_agreement_is_told_and_the_usual_days_are_taken(stay: Consignment, at: datetime) -> None:
    assert curve(stay, on=day(at, 119)).here.days_left == 1
    assert curve(stay, on=day(at, 120)).here.days_left == 1
    ended = curve(stay, on=day(at, 121)).here
    assert (ended.days_left, "The agreement ended on" in ended.no_end) == (90, True)


@pytest.mark.parametrize("floor_kind", ["price", "net"])
def test_stale_lien_quote_is_told_and_nothing_falls(stay: Consignment, at: datetime, floor_kind: str) -> None:
    lien = {**STALE, "lien_quoted_on": day(at), "lien_good_until": day(at, 5), "floor_kind": floor_kind}
    agreeing.agree_terms(stay.pk, terms=build.terms(at, **lien), by=BY, at=at)
    found = curve(stay, on=day(at, 10), offer=Decimal("33000.00"))
    assert found.deal is None
    assert "Tarn Credit Union" in found.deal_question
    assert found.suggestion is None
    assert "Tarn Credit Union" in found.no_suggestion
    (offer,) = ask_offers.offers_in_hand(found)
    assert offer.question == found.deal_question
    assert all(net.statement is None for net in ask_offers.net_sheet(found))


def test_thin_lot_says_its_counts_and_what_would_help(at: datetime) -> None:
    askings.fitted(at, selling=askings.thin_selling())
    stay = priced(build.consignment(State.LISTED, at=at), at=at)
    refused = here_of(stay, on=day(at)).refused
    assert refused is not None
    assert refused.code == "too_little_evidence"
    assert "20 that ended and 12 sold are needed" in str(refused)
    assert "import past sales with the day they were listed" in str(refused)


def test_fit_of_another_version_is_told(at: datetime) -> None:
    askings.fitted(at, selling={"version": 0})
    refused = here_of(priced(build.consignment(State.LISTED, at=at), at=at), on=day(at)).refused
    assert refused is not None
    assert "Fit it again" in str(refused)


@pytest.mark.parametrize("state", [State.SOLD, State.WITHDRAWN])
def test_nothing_is_looked_at_after_the_sale(fit: ModelFit, at: datetime, state: State) -> None:
    refused = here_of(build.consignment(state, at=at), on=day(at)).refused
    assert refused is not None
    assert refused.code == "not_for_sale"


def test_suggestion_is_kept_with_what_is_expected_of_the_ask_that_is_set(stay: Consignment, at: datetime) -> None:
    here = here_of(stay, on=day(at, 10))
    found = ask_desk.suggested_for(here, view=here.usual, amount=Decimal("42000.00"))
    shown = ask_desk.curve_of(here, view=here.usual)
    assert found is not None
    assert shown.suggestion is not None
    assert found.amount == shown.suggestion.ask
    row = shown.at(Decimal("42000.00"))
    assert row is not None
    assert (found.expected["net"], found.expected["days"]) == (row.net, row.days)
    assert found.expected["chance"]["end"] == round(row.end.likely, 4)
    assert ask_desk.suggested_for(here, view=here.usual, amount=Decimal(0)) is None


def test_queries_do_not_grow_with_what_is_recorded(stay: Consignment, at: datetime) -> None:
    def count() -> int:
        row, fit = Consignment.objects.get(pk=stay.pk), ModelFit.objects.last()
        with CaptureQueriesContext(connection) as seen:
            here = ask_desk.situation_of(row, fit=fit, today=day(at, 10))
            page_of(here, view=here.usual)
        return len(seen)

    before = count()
    for more in range(9):
        asking.set_ask(stay.pk, amount=Decimal(41000 - more * 100), by=BY, at=at)
        offer = offering.log_offer(stay.pk, amount=Decimal(31000 + more), bidder="Bo Larkin", by=BY, at=at)
        offering.log_offer(stay.pk, amount=Decimal(32000 + more), bidder="Cy Aldous", by=BY, at=at)
        offering.answer_offer(offer.pk, answer="refused", by=BY, at=at)
        priced(stay, at=at)
    assert count() == before
    assert before <= 15


def test_band_at_listing_is_the_one_given_up_to_that_day(fit: ModelFit, at: datetime) -> None:
    stay = priced(build.consignment(State.LISTED, at=at), at=at)
    first = PriceOpinion.objects.get()
    priced(stay, at=at + timedelta(days=40))
    page = page_of(here_of(stay, on=day(at, 40)), view=here_of(stay, on=day(at, 40)).usual)
    assert page.here.needed.at_listing is not None
    assert page.here.needed.at_listing.likely == first.likely
    assert [band.name for band in page.bands] == ["When it was listed", "By what it is", "Now"]


def test_usual_view_is_the_lots_own_setting(stay: Consignment, at: datetime) -> None:
    assert here_of(stay, on=day(at)).usual == View(
        objective=Objective.CONSIGNOR_NET, cost_per_day=Decimal(0), target_percent=70
    )
