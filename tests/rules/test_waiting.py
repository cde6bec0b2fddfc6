"""Lost by waiting: the money of both sides, the asks that are tried, and the words for evidence."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

import pytest

from inventory.rules.asking import Deal, expected
from inventory.rules.terms import ChargeLine, CommissionPlan, LienPayoff, Tier
from inventory.rules.waiting import Keeping, asks_to_try, best_of, best_said, evidence_said, moved_percent
from inventory.rules.words import BornBy, PlanKind

ON = date(2026, 3, 16)
KEEPING = Keeping(cost_per_day=Decimal("11.50"), unsold_worth_percent=Decimal(80))
CHARGES = (
    ChargeLine(label="Detail", amount=Decimal("350.00"), borne_by=BornBy.CONSIGNOR),
    ChargeLine(label="Photos", amount=Decimal("120.00"), borne_by=BornBy.LOT),
)
LIEN = LienPayoff(holder="First Harbour", amount=Decimal("4100.00"), quoted_on=ON)
PLANS = (
    CommissionPlan(kind=PlanKind.PERCENT, rate=Decimal(9)),
    CommissionPlan(kind=PlanKind.PERCENT_WITH_MINIMUM, rate=Decimal(9), minimum=Decimal("4500.00")),
    CommissionPlan(kind=PlanKind.TIERED, tiers=(Tier(Decimal(35000), Decimal(12)), Tier(None, Decimal(6)))),
    CommissionPlan(kind=PlanKind.FLAT, flat=Decimal("2500.00")),
    CommissionPlan(kind=PlanKind.GUARANTEED_NET, guaranteed_net=Decimal("38000.00")),
)


@dataclass(frozen=True)
class Glimpse:
    chance: float
    price: Decimal
    days: Decimal = Decimal(40)
    unsold_value: Decimal = Decimal("36000.00")


def glimpse(chance: float, price: str) -> Glimpse:
    return Glimpse(chance, Decimal(price))


@pytest.mark.parametrize("plan", PLANS, ids=lambda plan: plan.kind)
def test_money_of_both_is_the_settlements_but_for_charges_and_lien(plan: CommissionPlan) -> None:
    # held against the settlement's own functions over several prices, not one: a mean is exact under every plan
    prices = ((Decimal("30000.00"), Decimal("0.25")), (Decimal("42000.00"), Decimal("0.50")))
    deal = Deal(plan=plan, charges=CHARGES, lien=LIEN, on=ON, cost_per_day=KEEPING.cost_per_day)
    found = expected(
        prices, unsold=Decimal("0.25"), unsold_value=Decimal("36000.00"), days=Decimal(40), deal=deal
    )  # fmt: skip
    ours = KEEPING.together(glimpse(0.75, "38000.00"))
    assert found.net + found.gross == ours - Decimal("350.00") - Decimal("120.00") - Decimal("4100.00")


def test_money_of_both_by_hand() -> None:
    # 0.6 × 40,000 + 0.4 × 0.8 × 36,000 − 11.50 × 40 = 24,000 + 11,520 − 460
    assert KEEPING.together(glimpse(0.6, "40000.00")) == Decimal("35060.00")


def test_asks_to_try_begin_with_the_present_one_and_keep_to_the_floor() -> None:
    asks = asks_to_try(
        Decimal("40000.00"), present=Decimal("47500.00"), floor=Decimal("37150.00"), asked=(0.5, 2.0)
    )  # fmt: skip
    assert asks[0] == Decimal("47500.00")
    assert [f"{ask}" for ask in asks[1:]] == [
        "37150.00", "37150.00", "38000.00", "40000.00", "42000.00", "44000.00"
    ]  # fmt: skip


def test_asks_to_try_stay_within_what_the_lot_has_asked() -> None:
    asks = asks_to_try(Decimal("40000.00"), present=Decimal("60000.00"), floor=None, asked=(0.95, 1.02))
    assert {min(asks[1:]), max(asks[1:])} == {Decimal("38000.00"), Decimal("40800.00")}


def test_asks_of_a_cheap_vehicle_are_in_tens_and_above_nothing() -> None:
    asks = asks_to_try(Decimal("3.00"), present=Decimal("5.00"), floor=None, asked=(0.5, 2.0))
    assert set(asks[1:]) == {Decimal("10.00")}


def test_best_ask_is_the_one_most_is_expected_of() -> None:
    asks = [Decimal(48000), Decimal(40000), Decimal(44000)]
    seen = [glimpse(0.3, "46000.00"), glimpse(0.8, "39000.00"), glimpse(0.6, "42000.00")]
    assert best_of(asks, seen=seen, floor=None, keeping=KEEPING) == (Decimal(40000), Decimal("36500.00"))


def test_best_ask_of_equals_is_the_present_one() -> None:
    seen = [glimpse(0.5, "40000.00")] * 3
    asks = [Decimal(44000), Decimal(40000), Decimal(48000)]
    assert best_of(asks, seen=seen, floor=None, keeping=KEEPING)[0] == Decimal(44000)


def test_best_ask_is_never_a_present_one_below_the_floor() -> None:
    seen = [glimpse(0.9, "44000.00"), glimpse(0.5, "40000.00")]
    found = best_of([Decimal(44000), Decimal(46000)], seen=seen, floor=Decimal(46000), keeping=KEEPING)
    assert found[0] == Decimal(46000)


@pytest.mark.parametrize(
    ("best", "said"),
    [
        ("42000.00", "ask as it is"),
        ("44000.00", "best ask $44,000, the highest tried"),
        ("40000.00", "best ask $40,000"),
        ("38000.00", "best ask $38,000, the lowest tried"),
    ],
)
def test_best_ask_at_an_end_of_those_tried_says_so(best: str, said: str) -> None:
    asks = [Decimal(42000), Decimal(38000), Decimal(40000), Decimal(44000)]
    assert best_said(Decimal(best), asks=asks, floor=None) == said


def test_best_ask_at_the_floor_says_so() -> None:
    floor = Decimal("41000.00")
    assert best_said(floor, asks=[Decimal(45000), floor, floor], floor=floor) == "best ask $41,000, the floor"


def test_evidence_says_the_largest_first_and_leaves_out_next_to_nothing() -> None:
    by = {"asked": 0.997, "weeks": 0.93, "offers": 1.021}
    assert evidence_said(by, weeks=9, best_offer=Decimal("27200.00")) == (
        "9 weeks without a sale: −7\u00a0%", "best offer $27,200: +2\u00a0%"
    )  # fmt: skip
    assert evidence_said(by | {"interest": 1.03}, weeks=9, best_offer=None, interest=12) == (
        "9 weeks without a sale: −7\u00a0%", "12 inquiries and showings in 9 weeks: +3\u00a0%", "offers: +2\u00a0%"
    )  # fmt: skip
    assert evidence_said({"asked": 1.0, "weeks": 0.99, "offers": 1.0}, weeks=1, best_offer=None) == (
        "1 week without a sale: −1\u00a0%",
    )


def test_move_is_in_percent_of_the_price_before() -> None:
    assert moved_percent(Decimal("38000.00"), before=Decimal("40000.00")) == Decimal(-5)
