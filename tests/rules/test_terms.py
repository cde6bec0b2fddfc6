"""Commission, lien and statement against worked figures; net and price as inverses by property."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.rules import terms
from inventory.rules.money import CENT, MAX_MONEY, total
from inventory.rules.terms import (
    BornBy,
    ChargeLine,
    CommissionPlan,
    LienPayoff,
    LineKind,
    PlanKind,
    Tier,
)

PAY_DAY = date(2026, 3, 4)


def percent(rate: str, **limits: Any) -> CommissionPlan:
    return CommissionPlan(kind=PlanKind.PERCENT, rate=Decimal(rate), **limits)


def with_minimum(rate: str, minimum: str, **limits: Any) -> CommissionPlan:
    return CommissionPlan(kind=PlanKind.PERCENT_WITH_MINIMUM, rate=Decimal(rate), minimum=Decimal(minimum), **limits)


TIERED = CommissionPlan(
    kind=PlanKind.TIERED,
    tiers=(
        Tier(Decimal(25000), Decimal(10)),
        Tier(Decimal(60000), Decimal(8)),
        Tier(None, Decimal("5.5")),
    ),
)
FLAT = CommissionPlan(kind=PlanKind.FLAT, flat=Decimal(2500))
NET_40 = CommissionPlan(kind=PlanKind.GUARANTEED_NET, guaranteed_net=Decimal(40000))


def borne_by_consignor(amount: str, label: str = "Cleaning") -> ChargeLine:
    return ChargeLine(label=label, amount=Decimal(amount), borne_by=BornBy.CONSIGNOR)


def lender(amount: str = "12250.37", **terms_of_quote: Any) -> LienPayoff:
    return LienPayoff(holder="Merrow Savings", amount=Decimal(amount), quoted_on=date(2026, 3, 1), **terms_of_quote)


cents = st.integers(0, 10**8).map(lambda n: Decimal(n).scaleb(-2))
rates = st.one_of(st.just(Decimal(0)), st.integers(5000, 10**6).map(lambda n: Decimal(n).scaleb(-4)))
some_charges = st.lists(
    st.builds(ChargeLine, label=st.just("Transport"), amount=cents, borne_by=st.sampled_from(BornBy)),
    max_size=4,
)
some_liens = st.one_of(
    st.none(),
    st.builds(
        LienPayoff,
        holder=st.just("Merrow Savings"),
        amount=cents,
        quoted_on=st.dates(date(2026, 1, 1), PAY_DAY),
        good_until=st.just(PAY_DAY),
        per_day=st.one_of(st.none(), st.integers(0, 5000).map(lambda n: Decimal(n).scaleb(-2))),
    ),
)


@st.composite
def limits(draw: st.DrawFn) -> dict[str, Any]:
    low, high = sorted((draw(cents), draw(cents)))
    return {"minimum": low + CENT, "maximum": draw(st.sampled_from([None, high + CENT]))}


@st.composite
def tiered(draw: st.DrawFn) -> CommissionPlan:
    ends = sorted(draw(st.sets(st.integers(1, 10**8), max_size=4)))
    steps = [*(Decimal(end).scaleb(-2) for end in ends), None]
    plan = CommissionPlan(kind=PlanKind.TIERED, tiers=tuple(Tier(end, draw(rates)) for end in steps))
    return replace(plan, **draw(limits())) if draw(st.booleans()) else plan


by_percent = st.builds(CommissionPlan, kind=st.just(PlanKind.PERCENT), rate=rates)
by_percent_with_minimum = st.builds(
    lambda rate, held: CommissionPlan(kind=PlanKind.PERCENT_WITH_MINIMUM, rate=rate, **held), rates, limits()
)
by_flat_fee = st.builds(CommissionPlan, kind=st.just(PlanKind.FLAT), flat=cents.map(lambda fee: fee + CENT))
by_net = st.builds(
    CommissionPlan, kind=st.just(PlanKind.GUARANTEED_NET), guaranteed_net=cents.map(lambda net: net + CENT)
)
plans_that_follow_the_price = st.one_of(by_percent, by_percent_with_minimum, tiered(), by_flat_fee)
plans = st.one_of(plans_that_follow_the_price, by_net)


@pytest.mark.parametrize(
    ("plan", "price", "expected"),
    [
        # The rounding figures of the standards, section 13; the others worked by hand.
        (percent("12.5"), "41333.00", "5166.63"),
        (percent("10"), "25000.05", "2500.01"),
        (percent("9"), "48500.00", "4365.00"),
        (percent("9", maximum=Decimal(4000)), "48500.00", "4000.00"),
        (with_minimum("9", "1500"), "12000.00", "1500.00"),
        (with_minimum("9", "1500"), "48500.00", "4365.00"),
        (with_minimum("9", "1500"), "1000.00", "1500.00"),
        (with_minimum("9", "1500", maximum=Decimal(4000)), "48500.00", "4000.00"),
        (TIERED, "25000.00", "2500.00"),  # 10 % of the first 25,000
        (TIERED, "25000.05", "2500.00"),  # and 8 % of five cents: 2,500.004
        (TIERED, "48500.00", "4380.00"),  # 2,500 + 8 % of 23,500
        (TIERED, "71234.50", "5917.90"),  # 2,500 + 2,800 + 5.5 % of 11,234.50 = 5,917.8975, rounded once
        (replace(TIERED, minimum=Decimal(3000)), "25000.00", "3000.00"),
        (replace(TIERED, maximum=Decimal(4000)), "48500.00", "4000.00"),
        (FLAT, "48500.00", "2500.00"),
        (FLAT, "1000.00", "2500.00"),
        (NET_40, "48500.00", "8500.00"),
        (NET_40, "40000.00", "0.00"),
        (NET_40, "37000.00", "0.00"),
    ],
)
def test_commission_by_plan_matches_the_figure_worked_by_hand(plan: CommissionPlan, price: str, expected: str) -> None:
    assert str(terms.commission(Decimal(price), plan=plan)) == expected


@given(cents, rates)
def test_commission_one_tier_equals_plain_percent(price: Decimal, rate: Decimal) -> None:
    one_tier = CommissionPlan(kind=PlanKind.TIERED, tiers=(Tier(None, rate),))
    assert terms.commission(price, plan=one_tier) == terms.commission(price, plan=percent(str(rate)))


@given(cents)
def test_commission_tiers_are_within_half_a_cent_of_the_exact_sum(price: Decimal) -> None:
    exact, below = Fraction(0), Fraction(0)
    for up_to, rate in TIERED.tiers:
        inside = max(Fraction(0), min(Fraction(price), Fraction(up_to or price)) - below)
        exact += inside * Fraction(rate) / 100
        below = Fraction(up_to or price)
    assert abs(Fraction(terms.commission(price, plan=TIERED)) - exact) <= Fraction(1, 200)


@given(cents, by_percent_with_minimum)
def test_commission_never_leaves_its_limits(price: Decimal, plan: CommissionPlan) -> None:
    taken = terms.commission(price, plan=plan)
    assert plan.minimum is not None
    assert plan.minimum <= taken <= (plan.maximum or MAX_MONEY)


@given(cents, cents, plans)
def test_commission_and_net_never_fall_as_the_price_rises(one: Decimal, other: Decimal, plan: CommissionPlan) -> None:
    low, high = sorted((one, other))
    assert terms.commission(low, plan=plan) <= terms.commission(high, plan=plan)
    net = {price: terms.net_to_consignor(price, plan=plan, on=PAY_DAY) for price in (low, high)}
    assert net[low] <= net[high]


@pytest.mark.parametrize(
    ("plan", "code", "field"),
    [
        (CommissionPlan(kind=PlanKind.PERCENT), "terms_missing", "rate"),
        (CommissionPlan(kind=PlanKind.PERCENT_WITH_MINIMUM, rate=Decimal(9)), "terms_missing", "minimum"),
        (CommissionPlan(kind=PlanKind.TIERED), "terms_missing", "tiers"),
        (CommissionPlan(kind=PlanKind.FLAT), "terms_missing", "flat"),
        (CommissionPlan(kind=PlanKind.GUARANTEED_NET), "terms_missing", "guaranteed_net"),
        (percent("9", minimum=Decimal(1500)), "terms_unused", "minimum"),
        (replace(FLAT, rate=Decimal(9)), "terms_unused", "rate"),
        (replace(NET_40, maximum=Decimal(9)), "terms_unused", "maximum"),
        (percent("101"), "money_rate", "rate"),
        (percent("0.09"), "money_rate", "rate"),
        (with_minimum("9", "0"), "money_too_low", "minimum"),
        (with_minimum("9", "-1"), "money_negative", "minimum"),
        (with_minimum("9", "1500.005"), "money_unrounded", "minimum"),
        (percent("9", maximum=Decimal(-1)), "money_negative", "maximum"),
        (with_minimum("9", "1500", maximum=Decimal(1000)), "terms_limits", "minimum"),
        (replace(TIERED, tiers=TIERED.tiers[:2]), "terms_tiers", "tiers"),
        (replace(TIERED, tiers=TIERED.tiers[::-1]), "terms_tiers", "tiers"),
        (replace(TIERED, tiers=(TIERED.tiers[1], *TIERED.tiers)), "terms_tiers", "tiers"),
        (replace(TIERED, tiers=(TIERED.tiers[0], *TIERED.tiers)), "terms_tiers", "tiers"),
        (replace(TIERED, tiers=(Tier(None, Decimal(120)),)), "money_rate", "tiers"),
    ],
)
def test_check_plan_nonsense_is_refused_with_field_and_mend(plan: CommissionPlan, code: str, field: str) -> None:
    with pytest.raises(Refused) as caught:
        terms.check_plan(plan)
    assert (caught.value.code, caught.value.field) == (code, field)
    assert caught.value.mend


@given(plans)
def test_check_plan_every_plan_used_here_is_accepted_and_prices(plan: CommissionPlan) -> None:
    terms.check_plan(plan)
    assert terms.commission(Decimal(1), plan=plan) >= 0


@pytest.mark.parametrize("price", [Decimal("-1"), Decimal("1.005"), Decimal("1E+11"), Decimal("NaN"), 48500.0])
def test_commission_of_no_proper_price_is_refused_on_the_price(price: Any) -> None:
    with pytest.raises(Refused) as caught:
        terms.commission(price, plan=FLAT)
    assert caught.value.field == "price"


def test_settlement_matches_the_worked_example() -> None:
    # 48,500.00 − 9 % 4,365.00 − 612.40 − 185.00 − lien 12,250.37 = 31,087.23 (standards, section 13).
    statement = terms.settlement_lines(
        Decimal("48500.00"),
        plan=percent("9"),
        charges=[borne_by_consignor("612.40", "Transport"), borne_by_consignor("185.00")],
        lien=lender(good_until=PAY_DAY),
        on=PAY_DAY,
    )
    assert [(line.kind, line.label, str(line.amount)) for line in statement.lines] == [
        ("sale_price", "Sale price agreed", "48500.00"),
        ("commission", "Commission, 9 %", "-4365.00"),
        ("charge", "Transport", "-612.40"),
        ("charge", "Cleaning", "-185.00"),
        ("lien", "Lien payoff to Merrow Savings, as of 2026-03-04", "-12250.37"),
    ]
    assert str(statement.due) == "31087.23"
    assert (statement.heading, str(statement.lot_gross)) == ("Due to consignor", "4365.00")


def test_settlement_net_below_zero_is_due_from_the_consignor() -> None:
    statement = terms.settlement_lines(
        Decimal(12000), plan=with_minimum("9", "1500"), lien=lender(good_until=PAY_DAY), on=PAY_DAY
    )
    assert str(statement.due) == "-1750.37"
    assert statement.heading == "Due from consignor"


def test_settlement_charge_the_lot_bears_never_reaches_the_consignor() -> None:
    on_the_lot = ChargeLine(label="Photographs", amount=Decimal("150.00"), borne_by=BornBy.LOT)
    statement = terms.settlement_lines(Decimal(48500), plan=percent("9"), charges=[on_the_lot], on=PAY_DAY)
    assert statement.due == Decimal("44135.00")
    assert statement.borne_by_lot == (on_the_lot,)
    assert statement.lot_gross == Decimal("4215.00")


@pytest.mark.parametrize(
    ("price", "commission", "top_up", "lot_gross"),
    # By hand: 40,000 guaranteed, less 200.00 borne by the consignor and 12,250.37 of lien = 27,549.63
    # at every price; the lot keeps what is over or adds what is short, and bears 150.00 itself.
    [
        ("48500.00", "-8500.00", "0.00", "8350.00"),
        ("40000.00", "0.00", "0.00", "-150.00"),
        ("37000.00", "0.00", "3000.00", "-3150.00"),
    ],
)
def test_settlement_guaranteed_net_is_topped_up_by_the_lot_in_a_line_of_its_own(
    price: str, commission: str, top_up: str, lot_gross: str
) -> None:
    on_the_lot = ChargeLine(label="Photographs", amount=Decimal("150.00"), borne_by=BornBy.LOT)
    statement = terms.settlement_lines(
        Decimal(price),
        plan=NET_40,
        charges=[borne_by_consignor("200.00"), on_the_lot],
        lien=lender(good_until=PAY_DAY),
        on=PAY_DAY,
    )
    assert str(statement.due) == "27549.63"
    assert str(statement.sum_of(LineKind.COMMISSION)) == commission
    assert str(statement.sum_of(LineKind.TOP_UP)) == top_up
    assert str(statement.lot_gross) == lot_gross


@pytest.mark.parametrize(("price", "top_ups"), [("39999.99", 1), ("40000.00", 0)])
def test_settlement_has_a_top_up_line_only_when_the_lot_pays_one(price: str, top_ups: int) -> None:
    lines = terms.settlement_lines(Decimal(price), plan=NET_40, on=PAY_DAY).lines
    assert [line.kind for line in lines].count(LineKind.TOP_UP) == top_ups


@given(cents, plans, some_charges, some_liens)
def test_settlement_lines_add_up_to_what_is_due_and_what_is_shared_out(
    price: Decimal, plan: CommissionPlan, charges: list[ChargeLine], lien: LienPayoff | None
) -> None:
    statement = terms.settlement_lines(price, plan=plan, charges=charges, lien=lien, on=PAY_DAY)
    assert sum((Fraction(line.amount) for line in statement.lines), Fraction(0)) == Fraction(statement.due)
    # The buyer's money goes to the consignor, the lender, the lot and those whom the charges pay.
    paid_out = [
        statement.due,
        statement.lot_gross,
        -statement.sum_of(LineKind.LIEN),
        *(c.amount for c in charges),
    ]
    assert total(paid_out) == price


@pytest.mark.parametrize(
    ("price", "plan", "label"),
    [
        ("12000", with_minimum("9", "1500"), "Commission, 9 %, minimum applies"),
        ("48500", percent("12.50", maximum=Decimal(4000)), "Commission, 12.5 %, maximum applies"),
        ("48500", percent("10"), "Commission, 10 %"),
        ("48500", TIERED, "Commission, by tiers"),
        ("48500", FLAT, "Commission, flat fee"),
        ("48500", NET_40, "Commission, what the price exceeds the guaranteed net by"),
    ],
)
def test_settlement_commission_line_says_how_it_was_found(price: str, plan: CommissionPlan, label: str) -> None:
    statement = terms.settlement_lines(Decimal(price), plan=plan, on=PAY_DAY)
    assert statement.lines[1].label == label


def test_settlement_negative_charge_is_refused_on_the_charges() -> None:
    with pytest.raises(Refused, match="negative") as caught:
        terms.settlement_lines(Decimal(1), plan=FLAT, charges=[borne_by_consignor("-5")], on=PAY_DAY)
    assert caught.value.field == "charges"


@pytest.mark.parametrize(
    ("on", "expected"),
    # By hand: 12.45 a day after the quote of 1 March 2026; 31 days of March.
    [("2026-03-01", "12250.37"), ("2026-03-04", "12287.72"), ("2026-04-01", "12636.32")],
)
def test_payoff_adds_the_daily_amount_up_to_the_pay_date(on: str, expected: str) -> None:
    quote = lender(per_day=Decimal("12.45"), good_until=date(2026, 3, 15))
    assert str(terms.payoff_on(quote, on=date.fromisoformat(on))) == expected


def test_payoff_without_daily_amount_stands_until_its_last_day() -> None:
    quote = lender(good_until=date(2026, 3, 15))
    assert terms.payoff_on(quote, on=date(2026, 3, 15)) == quote.amount
    with pytest.raises(Refused, match="ended on 2026-03-15") as caught:
        terms.payoff_on(quote, on=date(2026, 3, 16))
    assert (caught.value.code, caught.value.field) == ("lien_stale", "lien")


def test_payoff_with_neither_last_day_nor_daily_amount_stands_on_its_own_day_only() -> None:
    assert terms.payoff_on(lender(), on=date(2026, 3, 1)) == Decimal("12250.37")
    with pytest.raises(Refused, match="ended on 2026-03-01"):
        terms.payoff_on(lender(), on=date(2026, 3, 2))


def test_payoff_before_the_quote_is_refused() -> None:
    with pytest.raises(Refused, match="after the pay date 2026-02-28"):
        terms.payoff_on(lender(per_day=Decimal(1)), on=date(2026, 2, 28))


def test_payoff_past_the_quote_says_so_on_the_line() -> None:
    quote = lender(per_day=Decimal("12.45"), good_until=date(2026, 3, 2))
    statement = terms.settlement_lines(Decimal(48500), plan=FLAT, lien=quote, on=PAY_DAY)
    assert statement.lines[-1].label.endswith("(quote was good until 2026-03-02; confirm with the lender)")


@pytest.mark.parametrize(
    ("net", "plan", "expected"),
    [
        # By hand: 31,087.23 is the net of the worked example at 48,500.00; one cent less needs one cent less.
        ("31087.23", percent("9"), "48500.00"),
        ("31087.22", percent("9"), "48499.99"),
        ("0.00", FLAT, "15547.77"),  # 2,500 + 797.40 + 12,250.37
        ("31072.23", TIERED, "48500.00"),  # 15.00 more commission than 9 %
        ("20000.00", NET_40, "40000.00"),
    ],
)
def test_price_for_net_matches_the_worked_example(net: str, plan: CommissionPlan, expected: str) -> None:
    price = terms.price_for_net(
        Decimal(net),
        plan=plan,
        charges=[borne_by_consignor("612.40"), borne_by_consignor("185.00")],
        lien=lender(good_until=PAY_DAY),
        on=PAY_DAY,
    )
    assert str(price) == expected


@given(cents, plans_that_follow_the_price, some_charges, some_liens)
def test_price_for_net_is_the_lowest_price_that_leaves_it(
    net: Decimal, plan: CommissionPlan, charges: list[ChargeLine], lien: LienPayoff | None
) -> None:
    most = terms.net_to_consignor(MAX_MONEY, plan=plan, charges=charges, lien=lien, on=PAY_DAY)
    if most < net:
        with pytest.raises(Refused, match="No price leaves"):
            terms.price_for_net(net, plan=plan, charges=charges, lien=lien, on=PAY_DAY)
        return
    price = terms.price_for_net(net, plan=plan, charges=charges, lien=lien, on=PAY_DAY)
    assert terms.net_to_consignor(price, plan=plan, charges=charges, lien=lien, on=PAY_DAY) >= net
    if price:
        assert terms.net_to_consignor(price - CENT, plan=plan, charges=charges, lien=lien, on=PAY_DAY) < net


@given(cents, plans_that_follow_the_price, some_charges, some_liens)
def test_price_for_net_of_a_price_gives_back_its_net_at_no_higher_price(
    price: Decimal, plan: CommissionPlan, charges: list[ChargeLine], lien: LienPayoff | None
) -> None:
    net = terms.net_to_consignor(price, plan=plan, charges=charges, lien=lien, on=PAY_DAY)
    back = terms.price_for_net(net, plan=plan, charges=charges, lien=lien, on=PAY_DAY)
    assert back <= price
    assert terms.net_to_consignor(back, plan=plan, charges=charges, lien=lien, on=PAY_DAY) == net


@pytest.mark.parametrize("plan", [percent("100"), NET_40])
def test_price_for_net_no_price_can_leave_is_refused_with_the_most(plan: CommissionPlan) -> None:
    with pytest.raises(Refused, match=r"No price leaves 40,000\.01.*the most is") as caught:
        terms.price_for_net(Decimal("40000.01"), plan=plan, on=PAY_DAY)
    assert caught.value.field == "net"


@pytest.mark.parametrize(("days", "expected"), [(10, "2026-02-24"), (20, "2026-03-06"), (0, "2026-02-14")])
def test_payment_is_due_the_days_after_the_sale(days: int, expected: str) -> None:
    # 10 days in Washington, 20 in California: standards, section 6.
    assert terms.payment_due_on(date(2026, 2, 14), days=days) == date.fromisoformat(expected)


@pytest.mark.parametrize("days", [-1, 366])
def test_payment_days_that_make_no_sense_are_refused(days: int) -> None:
    with pytest.raises(Refused, match=f"{days} days"):
        terms.payment_due_on(date(2026, 2, 14), days=days)


@given(st.integers(0, 400), st.integers(0, 10**5))
def test_payoff_difference_between_days_is_the_daily_amount(days: int, per_day_cents: int) -> None:
    quote = lender(per_day=Decimal(per_day_cents).scaleb(-2))
    day = quote.quoted_on + timedelta(days=days)
    grown = terms.payoff_on(quote, on=day + timedelta(days=1)) - terms.payoff_on(quote, on=day)
    assert grown == quote.per_day
