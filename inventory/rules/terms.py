"""Terms of a consignment and the statement they lead to, from plain values.

Every figure starts from the sale price agreed with the buyer. Concessions and a trade over-allowance lower
the effective price, which is what the history keeps. They do not change what the consignor is owed, but for two
things: a percentage may be agreed to be taken of the effective price, and money off after the sale that the
consignor agreed to bear is a line of the statement.
Tiers are marginal. A guaranteed net is paid before the charges the lot bears and after the lien: what the
lot bears never reaches the consignor's statement; what the consignor bears and the lien reduce the payment.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from enum import StrEnum
from typing import NamedTuple

from inventory.errors import Refused
from inventory.rules.money import (
    CENT,
    MAX_MONEY,
    ZERO,
    check_amount,
    check_rate,
    percent_of,
    plain,
    round_money,
    share_of,
    total,
)
from inventory.rules.words import BornBy, CommissionBase, PlanKind


class LineKind(StrEnum):
    SALE_PRICE = "sale_price"
    COMMISSION = "commission"
    TOP_UP = "top_up"
    FORFEIT = "forfeit"
    CONCESSION = "concession"
    CHARGE = "charge"
    LIEN = "lien"


class Tier(NamedTuple):
    """The rate, in percent, for the part of the price above the tier before, up to `up_to` (None: no end)."""

    up_to: Decimal | None
    rate: Decimal


@dataclass(frozen=True, kw_only=True)
class CommissionPlan:
    """How the lot is paid. What the kind does not use stays empty; rates are in percent (9 is 9 %)."""

    kind: PlanKind
    rate: Decimal | None = None
    minimum: Decimal | None = None
    maximum: Decimal | None = None
    tiers: tuple[Tier, ...] = ()
    flat: Decimal | None = None
    guaranteed_net: Decimal | None = None
    base: CommissionBase = CommissionBase.PRICE


@dataclass(frozen=True, kw_only=True)
class ChargeLine:
    """An agreed cost, as a positive amount, who bears it, and the vendor to be paid for it (empty: the lot)."""

    label: str
    amount: Decimal
    borne_by: BornBy
    vendor: str = ""


class Amount(NamedTuple):
    """A labelled amount that a statement takes over, always positive."""

    label: str
    amount: Decimal


@dataclass(frozen=True, kw_only=True)
class Sale:
    """A price and what belongs to it besides: all that lowers the effective price, what of that the consignor
    agreed to bear, and their share of deposits forfeited before."""

    price: Decimal
    lowered_by: Decimal = ZERO
    borne_by_consignor: tuple[Amount, ...] = ()
    forfeits: tuple[Amount, ...] = ()


@dataclass(frozen=True, kw_only=True)
class LienPayoff:
    """A lender's quote: the amount on its day, and what each later day adds (None: not stated)."""

    holder: str
    amount: Decimal
    quoted_on: date
    good_until: date | None = None
    per_day: Decimal | None = None


@dataclass(frozen=True, kw_only=True)
class Line:
    """One line of a statement; `amount` is signed from the consignor's side."""

    kind: LineKind
    label: str
    amount: Decimal
    vendor: str = ""


@dataclass(frozen=True, kw_only=True)
class Statement:
    """What the consignor is owed on a day. The lines add up to `due` exactly; negative: they owe it."""

    on: date
    lines: tuple[Line, ...]
    due: Decimal
    borne_by_lot: tuple[ChargeLine, ...]

    @property
    def heading(self) -> str:
        return "Due from consignor" if self.due < 0 else "Due to consignor"

    def sum_of(self, kind: LineKind) -> Decimal:
        return total(line.amount for line in self.lines if line.kind is kind)

    @property
    def lot_gross(self) -> Decimal:
        """What the lot keeps: commission − top-up − the charges it bears itself."""
        earned = -self.sum_of(LineKind.COMMISSION) - self.sum_of(LineKind.TOP_UP)
        return earned - total(charge.amount for charge in self.borne_by_lot)


_USES: dict[PlanKind, tuple[frozenset[str], frozenset[str]]] = {
    # kind: what it needs, what it may have besides
    PlanKind.PERCENT: (frozenset({"rate"}), frozenset({"maximum"})),
    PlanKind.PERCENT_WITH_MINIMUM: (frozenset({"rate", "minimum"}), frozenset({"maximum"})),
    PlanKind.TIERED: (frozenset({"tiers"}), frozenset({"minimum", "maximum"})),
    PlanKind.FLAT: (frozenset({"flat"}), frozenset()),
    PlanKind.GUARANTEED_NET: (frozenset({"guaranteed_net"}), frozenset()),
}
_FIELDS = ("rate", "minimum", "maximum", "tiers", "flat", "guaranteed_net")


def check_plan(plan: CommissionPlan) -> None:
    """Refuse a plan that lacks what its kind needs, has what it does not use, or states nonsense."""
    needs, may_have = _USES[plan.kind]
    kind = plan.kind.replace("_", " ")
    for name in _FIELDS:
        given = getattr(plan, name) not in (None, ())
        if given and name not in needs | may_have:
            raise _bad_plan("unused", f"A {kind} plan has no {name}.", field=name, mend="Leave it empty.")
        if not given and name in needs:
            raise _bad_plan("missing", f"A {kind} plan needs {name}.", field=name, mend="Enter it.")
    if plan.rate is not None:
        check_rate(plan.rate, field="rate")
    for name in ("minimum", "maximum", "flat", "guaranteed_net"):
        amount = getattr(plan, name)
        if amount is not None:
            check_amount(amount, field=name, minimum=CENT if name in needs else ZERO)
    if plan.base is not CommissionBase.PRICE and plan.rate is None and not plan.tiers:
        raise _bad_plan(
            "unused",
            f"A {kind} plan takes no percentage of anything.",
            field="commission_base",
            mend=f"Choose “{CommissionBase.PRICE.label}”.",
        )
    if plan.minimum is not None and plan.maximum is not None and plan.minimum > plan.maximum:
        raise _bad_plan(
            "limits",
            f"The minimum {plain(plan.minimum)} is above the maximum {plain(plan.maximum)}.",
            field="minimum",
            mend="Lower the minimum or raise the maximum.",
        )
    _check_tiers(plan.tiers)


def _check_tiers(tiers: Sequence[Tier]) -> None:
    if not tiers:
        return
    below = ZERO
    for tier in tiers[:-1]:
        if tier.up_to is None:
            raise _bad_plan(
                "tiers", "Only the last tier has no upper end.", field="tiers", mend="Give each an upper end."
            )
        if check_amount(tier.up_to, field="tiers") <= below:
            raise _bad_plan(
                "tiers",
                f"A tier up to {plain(tier.up_to)} follows one up to {plain(below)}.",
                field="tiers",
                mend="Give the upper ends in rising order.",
            )
        below = tier.up_to
    if tiers[-1].up_to is not None:
        raise _bad_plan(
            "tiers",
            f"The tiers end at {plain(tiers[-1].up_to)}; a higher price would have no rate.",
            field="tiers",
            mend="Leave the upper end of the last tier empty.",
        )
    for tier in tiers:
        check_rate(tier.rate, field="tiers")


def _bad_plan(claim: str, message: str, *, field: str, mend: str) -> Refused:
    return Refused(f"terms_{claim}", message, field=field, mend=mend)


def commission(price: Decimal, *, plan: CommissionPlan, lowered_by: Decimal = ZERO) -> Decimal:
    """What the lot takes from a sale at `price`, rounded once, to the cent.

    - percent: round(base × rate ÷ 100); with a minimum or maximum it is held between them. The base is the
      price or, where the terms say so, the price less what lowers it;
    - tiered: round(Σ (part of the base inside the tier) × rate ÷ 100), then held likewise;
    - flat: the flat fee, whatever the price;
    - guaranteed net: max(price − guaranteed net, 0).

    A minimum or a flat fee may exceed the price: the consignor then owes the difference.
    """
    check_plan(plan)
    return _commission(_base(check_amount(price, field="price"), plan=plan, lowered_by=lowered_by), plan=plan)


def _base(price: Decimal, *, plan: CommissionPlan, lowered_by: Decimal) -> Decimal:
    """What a percentage is taken of."""
    if plan.base is CommissionBase.PRICE:
        return price
    return check_amount(price - check_amount(lowered_by, field="concessions"), field="concessions")


def _commission(base: Decimal, *, plan: CommissionPlan) -> Decimal:
    if plan.flat is not None:
        return round_money(plan.flat)
    if plan.guaranteed_net is not None:
        return round_money(max(base - plan.guaranteed_net, ZERO))
    return round_money(_within_limits(_by_rate(base, plan=plan), plan=plan))


def _by_rate(price: Decimal, *, plan: CommissionPlan) -> Decimal:
    if plan.rate is not None:
        return percent_of(price, rate=plan.rate)
    below, exact = ZERO, Decimal(0)
    for tier in plan.tiers:
        above = price if tier.up_to is None else min(price, tier.up_to)
        if above <= below:
            break
        exact += share_of(above - below, rate=tier.rate)
        below = above
    return round_money(exact)


def _within_limits(amount: Decimal, *, plan: CommissionPlan) -> Decimal:
    at_least = amount if plan.minimum is None else max(amount, plan.minimum)
    return at_least if plan.maximum is None else min(at_least, plan.maximum)


def over_allowance(allowance: Decimal, *, value: Decimal) -> Decimal:
    """What a trade was taken in for above its worth."""
    return max(allowance - value, ZERO)


def payoff_on(lien: LienPayoff, *, on: date) -> Decimal:
    """The payoff for the pay date: amount + per-day amount × days since the quote.

    Without a per-day amount the quote stands until `good_until` (where that is missing, only on its own
    day); a later date is refused, since nobody can say what is owed then.
    """
    amount = check_amount(lien.amount, field="lien")
    days = (on - lien.quoted_on).days
    if days < 0:
        raise Refused(
            "lien_before_quote",
            f"The payoff of {lien.holder} was quoted on {lien.quoted_on}, after the pay date {on}.",
            field="lien",
            got=on,
            mend="Check the two dates.",
        )
    if lien.per_day is not None:
        return check_amount(amount + check_amount(lien.per_day, field="per_day") * days, field="lien")
    if on > _good_until(lien):
        raise Refused(
            "lien_stale",
            f"The payoff quote of {lien.holder} gives no daily amount and ended on {_good_until(lien)}.",
            field="lien",
            got=on,
            mend="Ask the lender for a new quote, or enter the amount each day adds.",
        )
    return amount


def _good_until(lien: LienPayoff) -> date:
    return lien.quoted_on if lien.good_until is None else lien.good_until


def settlement_lines(
    price: Decimal | Sale,
    *,
    plan: CommissionPlan,
    charges: Iterable[ChargeLine] = (),
    lien: LienPayoff | None = None,
    on: date,
) -> Statement:
    """The statement for a sale at `price` paid out `on` a day, line by line.

    due = price − commission + top-up + Σ shares of forfeited deposits − Σ money off that the consignor bears
    − Σ charges borne by the consignor − lien payoff. The top-up, max(guaranteed net − price, 0), is a line of its
    own and only of a plan with a guaranteed net. Charges the lot bears are carried beside the lines. Where `due` is
    negative, the consignor owes it.
    """
    check_plan(plan)
    sale = price if isinstance(price, Sale) else Sale(price=price)
    by_consignor, by_lot = _checked(charges)
    lines = [*_price_lines(sale, plan=plan), *_beside_the_price(sale), *_charge_lines(by_consignor)]
    if lien is not None:
        lines.append(Line(kind=LineKind.LIEN, label=_lien_label(lien, on=on), amount=-payoff_on(lien, on=on)))
    return Statement(on=on, lines=tuple(lines), due=total(line.amount for line in lines), borne_by_lot=tuple(by_lot))


def statement_without_sale(*, charges: Iterable[ChargeLine], forfeits: Iterable[Amount] = (), on: date) -> Statement:
    """The statement of a vehicle that was taken back: shares of forfeited deposits less the charges. A lender is not
    paid by the lot here."""
    by_consignor, by_lot = _checked(charges)
    lines = [*_forfeit_lines(forfeits), *_charge_lines(by_consignor)]
    return Statement(on=on, lines=tuple(lines), due=total(line.amount for line in lines), borne_by_lot=tuple(by_lot))


def _beside_the_price(sale: Sale) -> list[Line]:
    off = [
        Line(kind=LineKind.CONCESSION, label=item.label, amount=-check_amount(item.amount, field="concessions"))
        for item in sale.borne_by_consignor
    ]
    return [*_forfeit_lines(sale.forfeits), *off]


def _forfeit_lines(forfeits: Iterable[Amount]) -> list[Line]:
    return [
        Line(kind=LineKind.FORFEIT, label=item.label, amount=check_amount(item.amount, field="forfeits"))
        for item in forfeits
    ]


def _charge_lines(charges: Iterable[ChargeLine]) -> list[Line]:
    return [
        Line(kind=LineKind.CHARGE, label=charge.label, amount=-round_money(charge.amount), vendor=charge.vendor)
        for charge in charges
    ]


def _price_lines(sale: Sale, *, plan: CommissionPlan) -> list[Line]:
    price = check_amount(sale.price, field="price")
    base = _base(price, plan=plan, lowered_by=sale.lowered_by)
    lines = [
        Line(kind=LineKind.SALE_PRICE, label="Sale price agreed", amount=price),
        Line(
            kind=LineKind.COMMISSION,
            label=_commission_label(base, plan=plan, price=price),
            amount=-_commission(base, plan=plan),
        ),
    ]
    if plan.guaranteed_net is not None and price < plan.guaranteed_net:
        label = "Paid by the lot to reach the guaranteed net"
        lines.append(Line(kind=LineKind.TOP_UP, label=label, amount=round_money(plan.guaranteed_net - price)))
    return lines


def _checked(charges: Iterable[ChargeLine]) -> tuple[list[ChargeLine], list[ChargeLine]]:
    borne: dict[BornBy, list[ChargeLine]] = {BornBy.CONSIGNOR: [], BornBy.LOT: []}
    for charge in charges:
        check_amount(charge.amount, field="charges")
        borne[charge.borne_by].append(charge)
    return borne[BornBy.CONSIGNOR], borne[BornBy.LOT]


def _commission_label(base: Decimal, *, plan: CommissionPlan, price: Decimal) -> str:
    if plan.flat is not None:
        return "Commission, flat fee"
    if plan.guaranteed_net is not None:
        return "Commission, what the price exceeds the guaranteed net by"
    by_rate = _by_rate(base, plan=plan)
    held = _within_limits(by_rate, plan=plan)
    limit = "" if held == by_rate else f", {'minimum' if held > by_rate else 'maximum'} applies"
    rate = "by tiers" if plan.rate is None else f"{plan.rate.normalize():f} %"
    of = f" of {plain(base)}" if base != price else ""
    return f"Commission, {rate}{of}{limit}"


def _lien_label(lien: LienPayoff, *, on: date) -> str:
    past = lien.good_until is not None and on > lien.good_until
    aside = f" (quote was good until {lien.good_until}; confirm with the lender)" if past else ""
    return f"Lien payoff to {lien.holder}, as of {on}{aside}"


def net_to_consignor(
    price: Decimal,
    *,
    plan: CommissionPlan,
    charges: Iterable[ChargeLine] = (),
    lien: LienPayoff | None = None,
    on: date,
) -> Decimal:
    """What a sale at `price` leaves the consignor on a day: `due` of the statement. May be negative."""
    return settlement_lines(price, plan=plan, charges=charges, lien=lien, on=on).due


def price_for_net(
    net: Decimal,
    *,
    plan: CommissionPlan,
    charges: Iterable[ChargeLine] = (),
    lien: LienPayoff | None = None,
    on: date,
) -> Decimal:
    """The lowest price, to the cent, at which the consignor is left with at least `net`.

    The net never falls as the price rises, since one more cent of price adds at most one cent of
    commission (rates are at most 100 %); so the price is found by halving the range of cents, exactly,
    across tiers and limits. Under a guaranteed net every price leaves the same, because the lot tops up:
    there it is the lowest price at which the lot need not, the guaranteed net itself. Refuses a net that
    no price can leave.
    """
    wanted = check_amount(net, field="net", minimum=-MAX_MONEY)
    nothing_sold = settlement_lines(ZERO, plan=plan, charges=charges, lien=lien, on=on)
    deducted = nothing_sold.sum_of(LineKind.CHARGE) + nothing_sold.sum_of(LineKind.LIEN)
    most = MAX_MONEY - _commission(MAX_MONEY, plan=plan) + deducted
    if wanted > most:
        raise Refused(
            "terms_net_out_of_reach",
            f"No price leaves {plain(wanted)} under these terms; the most is {plain(most)}.",
            field="net",
            got=net,
            mend="Lower the net or change the commission plan.",
        )
    if plan.guaranteed_net is not None:
        return round_money(plan.guaranteed_net)
    return _lowest_price(wanted - deducted, plan=plan)


def _lowest_price(before_deductions: Decimal, *, plan: CommissionPlan) -> Decimal:
    low, high = 0, int(MAX_MONEY / CENT)
    while low < high:
        middle = (low + high) // 2
        price = middle * CENT
        if price - _commission(price, plan=plan) >= before_deductions:
            high = middle
        else:
            low = middle + 1
    return low * CENT


def payment_due_on(sold_on: date, *, days: int) -> date:
    """The last day to pay the consignor: the day the clock starts plus the lot's number of days."""
    if not 0 <= days <= 365:
        raise Refused(
            "terms_days",
            f"{days} days is not between 0 and 365.",
            field="days",
            got=days,
            mend="Check the setting.",
        )
    return sold_on + timedelta(days=days)
