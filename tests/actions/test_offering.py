"""Offers: every one is kept, answers are rows of their own."""

import uuid
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from inventory.actions import offering
from inventory.errors import NotAllowed, NotFound, Refused
from inventory.models import Consignment, Offer, OfferAnswer
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db


def log(stay: Consignment, *, by: Actor, at: datetime, amount: str = "45000.00", **more: Any) -> Offer:
    return offering.log_offer(stay.pk, amount=Decimal(amount), bidder=" Bo Larkin ", by=by, at=at, **more)


def test_offer_is_kept_with_its_day_and_counts_the_version_up(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    offer = log(stay, by=sales, at=at)
    assert (offer.bidder, offer.on, offer.by) == ("Bo Larkin", at.date(), sales.name)
    assert Consignment.objects.get(pk=stay.pk).version == stay.version + 1


def test_back_up_offer_is_taken_while_a_deposit_holds(sales: Actor, at: datetime) -> None:
    assert log(build.consignment(State.DEPOSIT, at=at), by=sales, at=at).pk


def test_offer_sent_twice_is_one(sales: Actor, at: datetime) -> None:
    stay, key = build.consignment(State.LISTED, at=at), uuid.uuid4()
    assert log(stay, by=sales, at=at, client_key=key) == log(stay, by=sales, at=at, client_key=key)
    assert Offer.objects.count() == 1


@pytest.mark.parametrize("state", [State.INSPECTED, State.SOLD, State.WITHDRAWN])
def test_offer_on_what_is_not_for_sale_is_refused(sales: Actor, at: datetime, state: State) -> None:
    with pytest.raises(Refused) as refusal:
        log(build.consignment(state, at=at), by=sales, at=at)
    assert (refusal.value.code, refusal.value.got) == ("not_for_sale", state)


@pytest.mark.parametrize(
    ("more", "field"), [({"amount": "0.00"}, "amount"), ({"on": "tomorrow"}, "on"), ({"note": "x" * 201}, "note")]
)
def test_offer_that_cannot_be_is_refused_on_its_field(
    sales: Actor, at: datetime, more: dict[str, Any], field: str
) -> None:
    stay = build.consignment(State.LISTED, at=at)
    if "on" in more:
        more = {"on": at.date() + timedelta(days=1)}
    with pytest.raises(Refused) as refusal:
        log(stay, by=sales, at=at, **more)
    assert refusal.value.field == field
    assert not Offer.objects.exists()


def test_counter_offer_is_kept_with_its_amount(owner: Actor, at: datetime) -> None:
    offer = log(build.consignment(State.LISTED, at=at), by=owner, at=at)
    answer = offering.answer_offer(offer.pk, answer="countered", amount=Decimal("47000.00"), by=owner, at=at)
    assert (answer.answer, answer.amount) == ("countered", Decimal("47000.00"))
    assert "countered with $47,000.00" in str(build.Consignment.objects.get().log.last().data)


@pytest.mark.parametrize(
    ("answer", "amount", "code", "field"),
    [
        ("countered", None, "counter_missing", "amount"),
        ("countered", Decimal("0.00"), "money_too_low", "amount"),
        ("accepted", Decimal("47000.00"), "counter_unused", "amount"),
        ("perhaps", None, "invalid", "answer"),
    ],
)
def test_answer_that_cannot_be_is_refused(
    owner: Actor, at: datetime, answer: str, amount: Decimal | None, code: str, field: str
) -> None:
    offer = log(build.consignment(State.LISTED, at=at), by=owner, at=at)
    with pytest.raises(Refused) as refusal:
        offering.answer_offer(offer.pk, answer=answer, amount=amount, by=owner, at=at)
    assert (refusal.value.code, refusal.value.field) == (code, field)
    assert not OfferAnswer.objects.exists()


def test_offer_is_not_answered_once_the_vehicle_is_sold(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    offer = log(stay, by=owner, at=at)
    build.step_to(State.SOLD, stay, at=at, price=Decimal(48500))
    with pytest.raises(Refused, match="not for sale"):
        offering.answer_offer(offer.pk, answer="accepted", by=owner, at=at)


def test_only_the_owner_answers_and_only_what_is_there(owner: Actor, sales: Actor, intake: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    offer = log(stay, by=sales, at=at)
    with pytest.raises(NotAllowed):
        offering.answer_offer(offer.pk, answer="accepted", by=sales, at=at)
    with pytest.raises(NotAllowed):
        log(stay, by=intake, at=at)
    with pytest.raises(NotFound):
        offering.answer_offer(offer.pk + 1, answer="accepted", by=owner, at=at)
