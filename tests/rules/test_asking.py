"""The money of an ask: means over what may come of it, the ask to suggest, and an offer against waiting."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.rules.asking import Deal, Expected, Point, expected, mean_price, suggest, weigh_offer
from inventory.rules.terms import BornBy, ChargeLine, CommissionPlan, LienPayoff, PlanKind
from inventory.rules.words import Objective

ON = date(2030, 5, 1)
CENT = Decimal("0.01")
WIDE = (Decimal(0), Decimal(1_000_000))


def percent(rate: str | Decimal, **limits: Any) -> CommissionPlan:
    return CommissionPlan(kind=PlanKind.PERCENT, rate=Decimal(rate), **limits)


def deal(**changes: Any) -> Deal:
    return Deal(**({"plan": percent("10"), "on": ON} | changes))


def charge(amount: int, borne_by: BornBy) -> ChargeLine:
    return ChargeLine(label="detailing", amount=Decimal(amount), borne_by=borne_by)


def waiting(**changes: Any) -> Expected:
    given_ = {"price": Decimal(30_000), "net": Decimal(24_000), "net_if_sold": Decimal(27_000),
              "unsold_net": Decimal(20_000), "gross": Decimal(2_000), "sold": Decimal("0.6")} | changes  # fmt: skip
    return Expected(**given_)


def test_expected_money_is_worked_out_on_paper() -> None:
    # 30,000 at 0.5 and 28,000 at 0.25, else 24,000 of which 80 % counts: 0.5 × 27,000 + 0.25 × 25,200 + 0.25 × 19,200.
    prices = ((Decimal(30_000), Decimal("0.5")), (Decimal(28_000), Decimal("0.25")))
    found = expected(
        prices, unsold=Decimal("0.25"), unsold_value=Decimal(24_000), days=Decimal(40),
        deal=deal(cost_per_day=Decimal("11.50")),
    )  # fmt: skip
    assert found.net == Decimal("24600.00")
    assert found.net_if_sold == Decimal("26400.00")
    assert found.unsold_net == Decimal("19200.00")
    assert found.gross == Decimal("1740.00")  # 0.5 × 3,000 + 0.25 × 2,800 - 40 × 11.50
    assert (found.price, found.sold) == (Decimal("29333.33"), Decimal("0.75"))


def test_charges_and_lien_stay_with_an_unsold_vehicle_and_the_lots_own_with_the_lot() -> None:
    lien = LienPayoff(holder="A bank", amount=Decimal(5_000), quoted_on=ON)
    terms = deal(charges=(charge(300, BornBy.CONSIGNOR), charge(200, BornBy.LOT)), lien=lien)
    found = expected((), unsold=Decimal(1), unsold_value=Decimal(20_000), days=Decimal(0), deal=terms)
    assert found.net == found.unsold_net == Decimal(16_000 - 300 - 5_000)
    assert found.gross == Decimal(-200)
    assert (found.price, found.net_if_sold, found.sold) == (None, None, Decimal(0))


def test_mean_price_of_no_sale_is_none() -> None:
    assert mean_price(()) is None


def points(*, count: int = 21) -> list[Point]:
    asks = [Decimal(20_000 + 500 * place) for place in range(count)]
    return [
        Point(ask=ask, chance=1 - place / count, net=-((ask - 24_000) ** 2), gross=-((ask - 27_000) ** 2))
        for place, ask in enumerate(asks)
    ]


@pytest.mark.parametrize(
    ("objective", "ask", "reason"),
    [
        (Objective.CONSIGNOR_NET, 24_000, "Lower, each sale brings too little"),
        (Objective.LOT_GROSS, 27_000, "the lot can expect most here"),
        (Objective.SELL_BY, 24_000, "highest ask with a chance of at least 60 %"),
    ],
)
def test_suggestion_serves_its_objective(objective: Objective, ask: int, reason: str) -> None:
    found = suggest(points(), objective=objective, floor=None, target=0.6, asked=WIDE)
    assert found is not None
    assert (found.ask, found.objective) == (Decimal(ask), objective)
    assert reason in found.reason


@pytest.mark.parametrize(
    ("floor", "asked", "ask", "reason"),
    [
        (26_000, (0, 100_000), 26_000, "It is the floor"),
        (None, (0, 22_000), 22_000, "as high as this lot has asked so far"),
        (None, (25_000, 100_000), 25_000, "as low as this lot has asked so far"),
        (28_000, (0, 22_000), 28_000, "It is the floor"),
    ],
)
def test_suggestion_says_what_held_it_back(floor: int | None, asked: tuple[int, int], ask: int, reason: str) -> None:
    found = suggest(
        points(), objective=Objective.CONSIGNOR_NET, floor=None if floor is None else Decimal(floor), target=0.6,
        asked=(Decimal(asked[0]), Decimal(asked[1])),
    )  # fmt: skip
    assert found is not None
    assert found.ask == ask
    assert reason in found.reason


def test_no_ask_that_reaches_the_chance_gives_the_lowest_and_says_so() -> None:
    found = suggest(points(), objective=Objective.SELL_BY, floor=Decimal(25_000), target=0.9, asked=WIDE)
    assert found is not None
    assert found.ask == 25_000
    assert found.reason.endswith("the floor comes nearest, with 52 %.")


def test_equal_figures_give_the_lower_ask() -> None:
    flat = [Point(ask=point.ask, chance=0.5, net=Decimal(1), gross=Decimal(1)) for point in points()]
    found = suggest(reversed(flat), objective=Objective.LOT_GROSS, floor=None, target=0.5, asked=WIDE)
    assert found is not None
    assert found.ask == 20_000


def test_without_terms_only_the_chance_can_be_served() -> None:
    bare = [Point(ask=point.ask, chance=point.chance, net=None, gross=None) for point in points()]
    assert suggest(bare, objective=Objective.CONSIGNOR_NET, floor=None, target=0.6, asked=WIDE) is None
    assert suggest(bare, objective=Objective.SELL_BY, floor=None, target=0.6, asked=WIDE) is not None


def test_no_ask_at_or_above_the_floor_gives_no_suggestion() -> None:
    assert suggest(points(), objective=Objective.LOT_GROSS, floor=Decimal(90_000), target=0.6, asked=WIDE) is None


@given(
    floor=st.integers(15_000, 31_000), low=st.integers(10_000, 40_000), width=st.integers(0, 20_000),
    objective=st.sampled_from(Objective), target=st.floats(0, 1),
)  # fmt: skip
def test_suggestion_is_never_below_the_floor(
    floor: int, low: int, width: int, objective: Objective, target: float
) -> None:
    asked = (Decimal(low), Decimal(low + width))
    found = suggest(points(), objective=objective, floor=Decimal(floor), target=target, asked=asked)
    assert found is None if floor > 30_000 else found is not None and found.ask >= floor


@given(
    rate=st.just(Decimal(0)) | st.decimals("0.5", 40, places=2), net=st.decimals(0, 200_000, places=2),
    paid=st.integers(0, 3_000), minimum=st.none() | st.integers(1, 5_000),
)  # fmt: skip
def test_break_even_is_the_least_offer_that_leaves_as_much_as_waiting(
    rate: Decimal, net: Decimal, paid: int, minimum: int | None
) -> None:
    plan = percent(rate) if minimum is None else CommissionPlan(
        kind=PlanKind.PERCENT_WITH_MINIMUM, rate=rate, minimum=Decimal(minimum)
    )  # fmt: skip
    terms = deal(plan=plan, charges=(charge(paid, BornBy.CONSIGNOR),) if paid else ())
    found = weigh_offer(
        Decimal(20_000), waiting=waiting(net=net), chance=0.6, deal=terms, counters=(), floor=None
    ).break_even
    assert terms.net(found) >= net
    assert found == 0 or terms.net(found - CENT) < net


def test_offer_in_hand_is_weighed_in_the_figures_of_the_asks() -> None:
    counters = (Decimal(26_000), Decimal(25_000), Decimal(28_000))
    found = weigh_offer(
        Decimal(25_000), waiting=waiting(), chance=0.55, deal=deal(), counters=counters, floor=Decimal(26_000)
    )
    assert (found.net_today, found.gross_today, found.below_floor) == (Decimal(22_500), Decimal(2_500), True)
    assert found.chance_needed == pytest.approx(2_500 / 7_000)  # p × 27,000 + (1 - p) × 20,000 = 22,500
    assert found.break_even == Decimal("26666.67")
    # Waiting is worth more than the offer: a counter may be tried at no chance at all.
    assert [counter.needed for counter in found.counters] == [0.0, 0.0, 0.0]


def test_counter_must_be_likelier_the_better_the_offer_in_hand() -> None:
    found = weigh_offer(
        Decimal(28_000), waiting=waiting(), chance=0.55, deal=deal(), floor=None,
        counters=(Decimal(27_000), Decimal(28_000), Decimal(30_000)),
    )  # fmt: skip
    needed = [counter.needed for counter in found.counters]
    assert needed == [None, 1.0, pytest.approx((25_200 - 24_000) / (27_000 - 24_000))]
    assert not found.below_floor


@pytest.mark.parametrize(("amount", "needed"), [(10_000, 0.0), (30_000, 1.0), (31_000, None)])
def test_chance_needed_has_its_ends(amount: int, needed: float | None) -> None:
    found = weigh_offer(Decimal(amount), waiting=waiting(), chance=0.5, deal=deal(), counters=(), floor=None)
    assert found.chance_needed == needed


def test_waiting_that_never_sells_is_never_worth_it_against_a_better_offer() -> None:
    never = waiting(net_if_sold=None)
    found = weigh_offer(Decimal(30_000), waiting=never, chance=0.0, deal=deal(), counters=(), floor=None)
    assert found.chance_needed is None
