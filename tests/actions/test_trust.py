"""The trust account: the report equals the bank and the sum of its parts, whatever happened."""

from datetime import datetime
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import run_state_machine_as_test

from inventory.actions import trusting
from inventory.errors import NotAllowed, Refused
from inventory.models import Consignment
from inventory.queries import trust
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.rules.trust import Account
from tests import build
from tests.trust_machine import TrustMachine, done, two_listed

pytestmark = pytest.mark.django_db


def test_books_equal_the_bank_after_random_histories() -> None:
    """A small fixed sample; a thousand histories are run by hand (`tests/bench/trust_bench.py`)."""
    TrustMachine.stays = two_listed()
    done.clear()
    few = settings(
        max_examples=10, stateful_step_count=16, deadline=None, derandomize=True, database=None,
        phases=[Phase.generate], suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    run_state_machine_as_test(TrustMachine, settings=few)
    assert {"sold", "cleared"} <= set(done)  # were all refused, it would prove nothing
    whole = TrustMachine()  # one history goes the whole way, whatever the sample happened to reach
    whole.begin()
    whole.sell_and_clear(index=0, price=9_000, trade=0)
    whole.settle_and_pay(index=0)
    whole.books_equal_the_bank_and_the_sum_of_their_parts()
    whole.statements_are_numbered_without_gaps_and_add_up()
    whole.teardown()
    assert {"approved", "paid out"} <= set(done)


def settled(at: datetime) -> Consignment:
    return build.consignment(State.SETTLED, at=at, price="48500.00")


def test_lot_takes_what_it_earned_and_no_more(owner: Actor, sales: Actor, at: datetime) -> None:
    """9 % of 48,500.00 is 4,365.00."""
    stay = settled(at)
    given = {"kind": "to_lot", "method": "wire", "at": at}
    with pytest.raises(NotAllowed):
        trusting.move_money(stay.pk, amount=Decimal(1), by=sales, **given)
    with pytest.raises(Refused, match=r"\$4,365.01 is more than the \$4,365.00"):
        trusting.move_money(stay.pk, amount=Decimal("4365.01"), by=owner, **given)
    trusting.move_money(stay.pk, amount=Decimal("4365.00"), by=owner, **given)
    standing = trust.ledger_of(stay).standing
    assert (standing[Account.LOT], standing[Account.BANK]) == (0, Decimal("44135.00"))
    with pytest.raises(Refused) as refusal:
        trusting.move_money(stay.pk, amount=Decimal(1), by=owner, **{**given, "kind": "from_lot"})
    assert refusal.value.code == "more_than_there"


def test_difference_to_the_bank_names_the_consignment(owner: Actor, at: datetime) -> None:
    """A deposit of 1,000.00 that the bank shows and nobody has called cleared is found by its amount."""
    stay = build.consignment(State.DEPOSIT, at=at)
    trusting.enter_balance(amount=Decimal("1000.00"), by=owner, at=at)
    report = trust.report(on=at.date())
    assert (report.bank, report.difference) == (0, Decimal("1000.00"))
    assert [item.stock_number for item in report.explained_by] == [stay.stock_number]
    trusting.enter_balance(amount=Decimal("999.99"), by=owner, at=at)
    assert trust.report(on=at.date()).explained_by == ()
