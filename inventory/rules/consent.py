"""The exact text that a consignor is asked to agree to, by what is asked."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from inventory.rules.money import show
from inventory.rules.words import ConsentKind

ONE_AT_A_TIME = frozenset({ConsentKind.FLOOR, ConsentKind.TERMS, ConsentKind.ASK})
"""A new question of these kinds takes back the one before: two different floors cannot both be agreed to."""

URGENT_AFTER_DAYS = 3  # an unanswered question is shown as urgent from here on; common practice, no source


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What a question is about, as plain values. `before` is the floor or ask it would take the place of."""

    vehicle: str
    stock_number: str
    amount: Decimal | None = None
    before: Decimal | None = None
    what: str = ""
    charge_kind: str = ""
    terms_number: int | None = None
    terms_before: int | None = None
    terms_in_words: tuple[str, ...] = ()


def text_of(kind: ConsentKind, *, asked: Asked) -> str:
    """The sentence, in the consignor's own person, so that the answer says exactly what was agreed to."""
    return _TEXT[kind](asked)


def _named(asked: Asked) -> str:
    return f"the {asked.vehicle}, stock number {asked.stock_number},"


def _amount(asked: Asked) -> str:
    if asked.amount is None:
        raise ValueError("A question about money has an amount.")
    return show(asked.amount)


def _floor(asked: Asked) -> str:
    before = f" The lowest price agreed before was {show(asked.before)}." if asked.before is not None else ""
    return f"I agree that {_named(asked)} may be sold for {_amount(asked)} or more.{before}"


def _ask(asked: Asked) -> str:
    instead = f" instead of {show(asked.before)}" if asked.before is not None else ""
    return f"I agree that {_named(asked)} is offered for sale at an asking price of {_amount(asked)}{instead}."


def _charge(asked: Asked) -> str:
    return (
        f"I agree to a charge of {_amount(asked)} for {asked.charge_kind} on {_named(asked)} namely: "
        f"{asked.what.rstrip('.')}. It reduces what I am paid."
    )


def _concession(asked: Asked) -> str:
    return (
        f"I agree that the buyer of {_named(asked)} is given {_amount(asked)} off the price after the sale, and that "
        f"what I am paid is reduced by it. Reason: {asked.what.rstrip('.')}."
    )


def _terms(asked: Asked) -> str:
    instead = f" in place of version {asked.terms_before}" if asked.terms_before is not None else ""
    listed = "\n".join(f"– {line}" for line in asked.terms_in_words)
    return f"I agree to version {asked.terms_number} of the terms for {_named(asked)[:-1]}{instead}:\n{listed}"


_TEXT = {
    ConsentKind.FLOOR: _floor, ConsentKind.ASK: _ask, ConsentKind.CHARGE: _charge, ConsentKind.CONCESSION: _concession,
    ConsentKind.TERMS: _terms,
}  # fmt: skip


def waiting_told(*, since: date, answer_by: date | None, today: date) -> str:
    """How long a question has waited, in words."""
    days = (today - since).days
    waited = "asked today" if days == 0 else f"asked {days} day{'' if days == 1 else 's'} ago"
    if answer_by is None:
        return waited
    return f"{waited}, wanted by {answer_by}" + (", overdue" if today > answer_by else "")


def is_urgent(*, since: date, answer_by: date | None, today: date) -> bool:
    return (today - since).days >= URGENT_AFTER_DAYS or (answer_by is not None and today > answer_by)
