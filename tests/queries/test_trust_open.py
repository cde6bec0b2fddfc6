"""The sums in the database name exactly the stays whose books are not even, on any day."""

from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from inventory.actions import charging, selling, settling, trusting
from inventory.models import Consignment
from inventory.queries import trust
from inventory.queries.settlements import payees_of
from inventory.queries.trust_open import open_stays
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def paid_out(at: datetime, *, by: Actor) -> Consignment:
    """Sold and settled on one day, paid out and taken by the lot on the next two."""
    stay = build.consignment(State.SETTLED, at=at)
    row = stay.settlements.get()
    for payee in payees_of(row):
        settling.record_disbursement(
            row.pk, payee_kind=payee.kind, payee=payee.name, amount=payee.left, method="wire", by=by, at=at + DAY
        )
    left = -trust.ledger_of(stay).standing[trust.Account.LOT]
    trusting.move_money(stay.pk, kind="to_lot", amount=left, method="wire", by=by, at=at + 2 * DAY)
    return stay


def taken_back(at: datetime, *, by: Actor) -> Consignment:
    """Charged on one day, taken back three days later, paid by the consignor two days after that."""
    stay = build.consignment(State.LISTED, at=at, vin=build.serial(7))
    given = {"kind": "repair", "amount": Decimal("120.50"), "agreed_by": "Ada Fenwick", "by": by, "at": at}
    charging.add_charge(stay.pk, what="A battery", **given)
    charging.add_charge(stay.pk, what="A screen", vendor="Tarn Glass", **given)
    selling.withdraw(stay.pk, reason="changed_mind", by=by, at=at + 3 * DAY)
    charging.record_consignor_payment(stay.pk, amount=Decimal("241.00"), method="cash", by=by, at=at + 5 * DAY)
    return stay


def test_open_books_of_each_day_are_found(owner: Actor, at: datetime) -> None:
    sold, back = paid_out(at, by=owner), taken_back(at, by=owner)
    held = build.consignment(State.DEPOSIT, at=at + DAY, vin=build.serial(8))
    on, seen = at.date() - DAY, []
    for _ in range(9):
        books = trust.ledgers_of(Consignment.objects.all(), until=on)
        assert set(open_stays(on=on)) == {pk for pk, ledger in books.items() if not ledger.is_closed}, on
        seen.append({stay.pk for stay in (sold, back, held)} & set(open_stays(on=on)))
        on += DAY
    assert {frozenset(), frozenset({sold.pk}), frozenset({back.pk})} <= set(map(frozenset, seen))
