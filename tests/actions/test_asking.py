"""The ask: kept with its history, never below the floor, not while a deal holds the vehicle."""

from datetime import datetime
from decimal import Decimal

import pytest

from inventory.actions import asking
from inventory.errors import NotAllowed, Refused
from inventory.models import AskChange
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db


def test_every_ask_is_kept_with_its_date(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    asking.set_ask(stay.pk, amount=Decimal("46000.00"), reason="eight quiet weeks", by=owner, at=at)
    assert list(AskChange.objects.order_by("pk").values_list("amount", flat=True)) == [
        Decimal("48500.00"),
        Decimal("46000.00"),
    ]


@pytest.mark.parametrize("state", [State.DEPOSIT, State.SOLD, State.WITHDRAWN])
def test_ask_stands_while_a_deal_holds_or_after_the_end(owner: Actor, at: datetime, state: State) -> None:
    stay = build.consignment(state, at=at)
    with pytest.raises(Refused) as refusal:
        asking.set_ask(stay.pk, amount=Decimal("46000.00"), by=owner, at=at)
    assert refusal.value.code == "not_askable"


def test_only_the_owner_sets_asks(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    with pytest.raises(NotAllowed):
        asking.set_ask(stay.pk, amount=Decimal("46000.00"), by=sales, at=at)
    assert AskChange.objects.count() == 1
