"""Until when a link opens: by the agreement and the stay as they are now, not as they were when it was made."""

from datetime import datetime, timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from inventory.actions import agreeing, linking, releasing, settling
from inventory.errors import NotFound
from inventory.models import Consignment
from inventory.queries import links
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db


def days_open(stay: Consignment, *, at: datetime) -> int:
    row = links.link_of(stay)
    assert row is not None
    return (links.ends_at(row, at=at) - row.made_at).days


def test_new_terms_with_a_later_end_make_the_link_last_longer(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.LISTED, at=at)
    _, token = linking.make_link(stay.pk, by=owner, at=at)
    later = at + timedelta(days=185)
    with pytest.raises(NotFound):
        links.live_link(token, at=later)
    agreeing.agree_terms(
        stay.pk, terms=build.terms(at, ends_on=timezone.localdate(at) + timedelta(days=300)), by=owner, at=at
    )
    assert links.live_link(token, at=later).consignment_id == stay.pk
    assert days_open(stay, at=at) == 360


def test_link_of_a_sold_stay_lives_until_60_days_after_all_is_settled_and_no_longer(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.SOLD, at=at)
    _, token = linking.make_link(stay.pk, by=owner, at=at)
    late = at + timedelta(days=400)  # the agreement ended long ago, the money is still open
    assert links.live_link(token, at=late).consignment_id == stay.pk
    build.pay_in_full(stay, at=at)
    paid_on = at + timedelta(days=10)
    settlement = settling.approve_settlement(stay.pk, by=owner, at=at + timedelta(days=5))
    assert days_open(stay, at=at) == 65
    settling.record_disbursement(
        settlement.pk, payee_kind="consignor", payee="Ada Fenwick", amount=Decimal(44135), method="wire", by=owner,
        at=paid_on,
    )  # fmt: skip
    assert days_open(stay, at=at) == 70
    releasing.release(stay.pk, signed_for_by="Bo Larkin", by=owner, at=at + timedelta(days=12))
    assert links.live_link(token, at=at + timedelta(days=71)).consignment_id == stay.pk
    with pytest.raises(NotFound):
        links.live_link(token, at=at + timedelta(days=72))


def test_link_of_a_stay_handed_back_lives_60_days_from_then(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.WITHDRAWN, at=at)
    linking.make_link(stay.pk, by=owner, at=at)
    assert days_open(stay, at=at + timedelta(days=30)) == 90
    releasing.release(stay.pk, signed_for_by="Ada Fenwick", by=owner, at=at + timedelta(days=3))
    assert days_open(stay, at=at) == 63
