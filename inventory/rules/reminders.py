"""Reminders of rules that may apply to a sale, each with its section. Check the rule; ask your adviser.

Sources, and how far each was checked against stored public text on the day this was written:

- 49 CFR 580.5 and 580.17: as in `rules/odometer.py`, which holds them.
- 16 CFR 455: consigned vehicles, five vehicles in twelve months, display before the vehicle is offered: read
  second-hand; the limits of weight and size from memory. The notice itself is never imitated here.
- 26 U.S.C. 6050I, 26 CFR 1.6050I-1: over $10,000 in one or in related transactions; cashier's cheques, drafts and
  money orders of a face amount of not more than $10,000; retail sale of a consumer durable or collectible; twelve
  months; agents and brokers included: read (2004 and 2014 texts). Fifteen days and the statement to the payer by
  31 January: read in IRS Publication 1544, examples 1 and 2. The exceptions for loans and payment plans: from memory.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from inventory.rules import money
from inventory.rules.odometer import exemption
from inventory.rules.words import PaymentMethod

ASK = "Check the rule; ask your adviser."
CASH_LIMIT = Decimal("10000.00")
DAYS_TO_REPORT = 15


@dataclass(frozen=True, kw_only=True)
class Reminder:
    """One rule that may apply: its section, and what to do in a sentence or two."""

    section: str
    text: str


@dataclass(frozen=True, kw_only=True)
class MoneyIn:
    """One payment as it was received from the buyer."""

    method: str
    amount: Decimal
    on: date


def odometer_reminder(model_year: int, *, sold_on: date) -> Reminder:
    """When the sale must disclose the mileage, and when its model year frees it."""
    free = exemption(model_year, sold_on=sold_on)
    duty = "" if free.exempt else " Have the reading and its status stated in writing and signed with the title."
    return Reminder(section="49 CFR 580.5, 580.17", text=f"Odometer disclosure. {free.why}{duty}")


def guide_reminder() -> Reminder:
    return Reminder(
        section="16 CFR 455",
        text="Used-car buyers guide: a dealer that offers a used vehicle after five or more in twelve months displays "
        "it before the vehicle is shown. Consigned vehicles need one too; age frees none. Motorcycles and heavy "
        f"vehicles are outside it, and some states have rules of their own. Use the form of the rule itself. {ASK}",
    )


def counted_as_cash(payments: Iterable[MoneyIn]) -> list[MoneyIn]:
    """Currency of any amount; cashier's cheques, drafts and money orders of $10,000 or less each. In order of date."""
    counted = [one for one in payments if one.method == PaymentMethod.CASH or _is_small_draft(one)]
    return sorted(counted, key=lambda one: one.on)


def _is_small_draft(payment: MoneyIn) -> bool:
    return payment.method == PaymentMethod.DRAFT and payment.amount <= CASH_LIMIT


def cash_reminder(payments: Iterable[MoneyIn]) -> Reminder | None:
    """Over $10,000 counted as cash in one deal: report within 15 days of the payment that went over it.

    The lot knows of one deal here: related transactions and other payments of the same buyer are for people to see.
    """
    counted = counted_as_cash(payments)
    over_on = _day_over_limit(counted)
    if over_on is None:
        return None
    due = over_on + timedelta(days=DAYS_TO_REPORT)
    total = money.show(money.total(one.amount for one in counted))
    return Reminder(
        section="26 U.S.C. 6050I; 26 CFR 1.6050I-1",
        text=f"{total} of this buyer's money may count as cash: currency, and cashier's cheques, drafts or money "
        f"orders of {money.show(CASH_LIMIT)} or less each. Over {money.show(CASH_LIMIT)} in one or in related "
        f"transactions is reported on Form 8300 within {DAYS_TO_REPORT} days, here by {due}, and the payer gets a "
        f"statement by 31 January. {ASK}",
    )


def _day_over_limit(counted: list[MoneyIn]) -> date | None:
    total = money.ZERO
    for payment in counted:
        total += payment.amount
        if total > CASH_LIMIT:
            return payment.on
    return None
