"""Settlements: the draft as it stands, and what is left to pay of an approved one."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from inventory.models import Consignment, Disbursement, Settlement, Terms
from inventory.queries import facts
from inventory.queries.history import live_outcome
from inventory.rules import money
from inventory.rules.terms import LineKind, Statement
from inventory.rules.words import Payee


@dataclass(frozen=True)
class Draft:
    terms: Terms
    statement: Statement


def draft_of(consignment: Consignment, *, on: date) -> Draft | None:
    """The statement of a sold vehicle if it were approved on a day; None without a sale or terms."""
    outcome = live_outcome(consignment)
    terms = facts.terms_of(consignment)
    if outcome is None or outcome.price is None or terms is None:
        return None
    charges = facts.live_charges(consignment)
    return Draft(terms, facts.statement_at(outcome.price, terms=terms, charges=charges, on=on))


def owed_to(settlement: Settlement, *, payee_kind: str) -> Decimal:
    """What the settlement owes a payee: the consignor its due, the lien holder the payoff."""
    if payee_kind == Payee.CONSIGNOR:
        due: Decimal = settlement.due
        return max(due, money.ZERO)
    lien = settlement.lines.filter(kind=LineKind.LIEN).values_list("amount", flat=True)
    return -money.total(lien)


def left_to_pay(settlement: Settlement, *, payee_kind: str) -> Decimal:
    paid = Disbursement.objects.filter(settlement=settlement, payee_kind=payee_kind)
    return owed_to(settlement, payee_kind=payee_kind) - money.total(paid.values_list("amount", flat=True))
