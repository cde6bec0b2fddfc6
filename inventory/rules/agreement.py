"""What an agreement says beside its commission: who bears which charge, asks agreed ahead, storage, an early end.

Plain values in, plain values out. What the law of the place allows of it is for a lawyer to say.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import NamedTuple

from inventory.errors import Refused
from inventory.rules.money import CENT, ZERO, check_amount, check_rate, percent_of, plain, show, total
from inventory.rules.words import BornBy, ChargeKind, PayClock

MOST_STEPS = 12
MOST_PAYEES = 10
FROM_TERMS = frozenset({ChargeKind.WITHDRAWAL, ChargeKind.PROTECTION, ChargeKind.STORAGE})
"""Charges whose amount follows from the terms themselves: agreed with them, and not asked about again."""


class StepDown(NamedTuple):
    """From `days` after it was listed the ask may go down to `ask` without asking again."""

    days: int
    ask: Decimal


class ChargeRule(NamedTuple):
    """Who bears charges of one kind; beyond `cap` in sum the consignor is asked first (None: no cap)."""

    kind: ChargeKind
    borne_by: BornBy
    cap: Decimal | None


class Share(NamedTuple):
    """One payee of what the consignor is due, and their share in percent."""

    name: str
    percent: Decimal


@dataclass(frozen=True, kw_only=True)
class Beside:
    """All of one version of the terms that is not commission, floor or lien."""

    step_downs: tuple[StepDown, ...] = ()
    charge_rules: tuple[ChargeRule, ...] = ()
    payees: tuple[Share, ...] = ()
    consent_below: Decimal | None = None
    convey_from: Decimal | None = None
    storage_per_day: Decimal | None = None
    storage_free_days: int = 0
    withdrawal_fee: Decimal | None = None
    forfeit_percent: Decimal | None = None
    protection_days: int = 0
    renewal_days: int | None = None


def check_beside(said: Beside) -> None:
    """Refuse what contradicts itself."""
    _check_steps(said.step_downs)
    _check_charge_rules(said.charge_rules)
    _check_payees(said.payees)
    for name in ("consent_below", "convey_from", "storage_per_day", "withdrawal_fee"):
        amount = getattr(said, name)
        if amount is not None:
            check_amount(amount, field=name, minimum=CENT)
    if said.forfeit_percent is not None:
        check_rate(said.forfeit_percent, field="forfeit_percent")
    if said.storage_free_days and said.storage_per_day is None:
        raise _bad("storage", "Days without storage are given, but no storage.", field="storage_free_days",
                   mend="Give the storage a day, or no free days.")  # fmt: skip


def _check_steps(steps: Sequence[StepDown]) -> None:
    if len(steps) > MOST_STEPS:
        raise _bad("steps", f"{len(steps)} steps are more than {MOST_STEPS}.", field="step_downs", mend="Give fewer.")
    before: StepDown | None = None
    for step in steps:
        check_amount(step.ask, field="step_downs", minimum=CENT)
        if not 1 <= step.days <= 3650:
            raise _bad("steps", f"{step.days} days is not between 1 and 3,650.", field="step_downs",
                       mend="Count the days from the listing.")  # fmt: skip
        if before is not None and (step.days <= before.days or step.ask >= before.ask):
            raise _bad(
                "steps",
                f"The step to {plain(step.ask)} after {step.days} days follows one to {plain(before.ask)} after "
                f"{before.days} days.",
                field="step_downs",
                mend="Give later days with lower asks, one a line.",
            )
        before = step


def _check_charge_rules(rules: Sequence[ChargeRule]) -> None:
    kinds = [rule.kind for rule in rules]
    for kind in kinds:
        if kinds.count(kind) > 1:
            raise _bad("charges", f"{kind.label} is named twice.", field="charge_rules", mend="Give one line to each.")
        if kind in FROM_TERMS:
            raise _bad("charges", f"{kind.label} follows from the terms by itself.", field="charge_rules",
                       mend="Leave it out here.")  # fmt: skip
    for rule in rules:
        if rule.cap is not None:
            check_amount(rule.cap, field="charge_rules")
        if rule.cap is not None and rule.borne_by is BornBy.LOT:
            raise _bad("charges", f"{rule.kind.label}, borne by the lot, has a cap.", field="charge_rules",
                       mend="A cap is for what the consignor bears.")  # fmt: skip


def _check_payees(payees: Sequence[Share]) -> None:
    if not payees:
        return
    if len(payees) > MOST_PAYEES:
        raise _bad("payees", f"{len(payees)} payees are more than {MOST_PAYEES}.", field="payees", mend="Give fewer.")
    names = [share.name.strip().casefold() for share in payees]
    if "" in names or len(set(names)) < len(names):
        raise _bad("payees", "A payee has no name, or stands there twice.", field="payees",
                   mend="Give each name once.")  # fmt: skip
    for share in payees:
        if check_rate(share.percent, field="payees") <= 0:
            raise _bad("payees", f"{share.name} has a share of nothing.", field="payees", mend="Leave them out.")
    whole = sum((share.percent for share in payees), Decimal(0))
    if whole != 100:
        raise _bad("payees", f"The shares add up to {whole.normalize():f} %, not to 100 %.", field="payees",
                   mend="Mend the shares.")  # fmt: skip


def _bad(claim: str, message: str, *, field: str, mend: str) -> Refused:
    return Refused(f"terms_{claim}", message, field=field, mend=mend)


def agreed_ahead(ask: Decimal, *, steps: Iterable[StepDown], listed_on: date | None, today: date) -> bool:
    """Whether a step that is due by now allows this ask without asking again."""
    if listed_on is None:
        return False
    days = (today - listed_on).days
    return any(days >= step.days and ask >= step.ask for step in steps)


def step_due(steps: Iterable[StepDown], *, listed_on: date | None, ask: Decimal | None, today: date) -> StepDown | None:
    """The furthest step whose day has come and that the ask has not followed yet."""
    if listed_on is None or ask is None:
        return None
    days = (today - listed_on).days
    due = [step for step in steps if days >= step.days and ask > step.ask]
    return due[-1] if due else None


def check_ask_allowed(
    ask: Decimal, *, said: Beside, listed_on: date | None, today: date, consented: Decimal | None
) -> None:
    """Refuse an ask below the threshold the consignor signed, unless a step or their consent allows it."""
    if said.consent_below is None or ask >= said.consent_below:
        return
    if consented is not None and ask >= consented:
        return
    if agreed_ahead(ask, steps=said.step_downs, listed_on=listed_on, today=today):
        return
    raise Refused(
        "consent_needed",
        f"The ask {show(ask)} is below {show(said.consent_below)}, from where the terms want the consignor's consent.",
        field="ask",
        got=str(ask),
        mend="Ask the consignor; the ask is set when they agree.",
    )


def check_charge(
    amount: Decimal, *, kind: ChargeKind, borne_by: BornBy, rules: Iterable[ChargeRule], so_far: Decimal
) -> None:
    """Refuse a charge to the consignor that the terms give to the lot, or that goes beyond its cap in sum.

    What the lot bears it may always bear; a kind the terms do not name is agreed one by one.
    """
    rule = next((rule for rule in rules if rule.kind is kind), None)
    if borne_by is BornBy.LOT or kind in FROM_TERMS or rule is None:
        return
    if rule.borne_by is BornBy.LOT:
        raise Refused(
            "consent_needed",
            f"By the terms the lot bears {kind.label}.",
            field="borne_by",
            got=borne_by.value,
            mend="Let the lot bear it, or ask the consignor.",
        )
    if rule.cap is not None and so_far + amount > rule.cap:
        already = f" with {show(so_far)} charged already" if so_far else ""
        raise Refused(
            "consent_needed",
            f"{show(amount)} for {kind.label}{already} goes beyond the cap of {show(rule.cap)}.",
            field="amount",
            got=str(amount),
            mend="Ask the consignor; it is charged when they agree.",
        )


def is_conveyed(offer: Decimal, *, convey_from: Decimal | None) -> bool:
    """Whether an offer is passed on: all are, but those below a threshold the consignor signed."""
    return convey_from is None or offer >= convey_from


def withdrawal_fee_due(said: Beside, *, ends_on: date, on: date) -> Decimal | None:
    """The agreed fee where the vehicle is taken back before the agreement's last day."""
    return said.withdrawal_fee if on < ends_on else None


def storage_due(said: Beside, *, ends_on: date, until: date) -> tuple[int, Decimal]:
    """Days of storage and what they come to: days after the end, less the free ones, × storage a day."""
    days = max((until - ends_on).days - said.storage_free_days, 0)
    if said.storage_per_day is None:
        return 0, ZERO
    return days, total(said.storage_per_day for _ in range(days))


def protected_until(said: Beside, *, ends_on: date, withdrawn_on: date | None) -> date | None:
    """The last day on which a sale to a buyer the lot introduced still owes commission."""
    if not said.protection_days:
        return None
    end = ends_on if withdrawn_on is None else min(ends_on, withdrawn_on)
    return end + timedelta(days=said.protection_days)


def split_forfeit(amount: Decimal, *, percent: Decimal | None) -> Decimal:
    """The consignor's share of a forfeited deposit, rounded; the rest is the lot's."""
    if percent is None:
        raise Refused(
            "forfeit_not_agreed",
            "The terms do not say how a forfeited deposit is split.",
            field="deposit_fate",
            mend="Return the deposit, or agree the split in new terms first.",
        )
    return percent_of(amount, rate=percent)


def clock_start(clock: PayClock, *, sold_on: date, cleared_on: date | None, title_on: date | None) -> date | None:
    """The day from which the consignor's payment is counted; None while it has not come."""
    return {PayClock.SOLD: sold_on, PayClock.CLEARED: cleared_on, PayClock.TITLE: title_on}[clock]
