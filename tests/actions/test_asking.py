"""The ask: kept with its history, never below the floor, not while a deal holds the vehicle."""

from dataclasses import replace
from datetime import datetime
from decimal import Decimal

import pytest

from inventory.actions import asking
from inventory.errors import NotAllowed, Refused
from inventory.models import AskChange, LogEntry
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.rules.suggested import Suggested
from inventory.rules.wording import log_sentence
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


SUGGESTED = Suggested(
    amount=Decimal("47000.00"), objective="consignor_net", because="Most is expected for the consignor there.",
    expected={"chance_90": 0.62, "net": Decimal("41200.00")},
)  # fmt: skip


def test_suggestion_is_kept_beside_the_ask_and_told_in_the_log(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    row = asking.set_ask(stay.pk, amount=Decimal("46900.00"), suggestion=SUGGESTED, by=owner, at=at)
    row.refresh_from_db()
    assert (row.suggested, row.objective, row.suggested_because) == (
        Decimal("47000.00"), "consignor_net", SUGGESTED.because,
    )  # fmt: skip
    assert row.expected == {"chance_90": 0.62, "net": "41200.00"}
    told = LogEntry.objects.get(action="opinion.suggested")
    assert log_sentence(told.action, data=told.data) == (
        "set the ask beside a suggestion of $47,000.00, most for the consignor: "
        "Most is expected for the consignor there."
    )


def test_ask_that_departs_from_the_suggestion_needs_a_reason(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    with pytest.raises(Refused) as refusal:
        asking.set_ask(stay.pk, amount=Decimal("49500.00"), reason=" ", suggestion=SUGGESTED, by=owner, at=at)
    assert (refusal.value.code, refusal.value.field) == ("reason_missing", "reason")
    row = asking.set_ask(
        stay.pk, amount=Decimal("49500.00"), reason="the consignor insists", suggestion=SUGGESTED, by=owner, at=at
    )
    assert row.suggested == Decimal("47000.00")


def test_suggestion_without_a_known_objective_is_refused(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    with pytest.raises(Refused) as refusal:
        asking.set_ask(
            stay.pk, amount=SUGGESTED.amount, suggestion=replace(SUGGESTED, objective="fastest"), by=owner, at=at
        )
    assert refusal.value.field == "objective"
    assert AskChange.objects.count() == 1
