"""Private links: one live link a stay, of which only a digest is kept."""

from datetime import datetime, timedelta

import pytest

from inventory.actions import linking
from inventory.errors import NotAllowed, NotFound
from inventory.models import LogEntry, StatusLink
from inventory.queries.people import digest_of
from inventory.rules.roles import Act, Actor, Role, may
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db


def test_token_has_256_bits_and_is_not_kept(sales: Actor, at: datetime) -> None:
    """32 bytes make 43 URL characters; OWASP ASVS 5.0, 7.2.3 asks for at least 128 bits."""
    link, token = linking.make_link(build.consignment(at=at).pk, by=sales, at=at)
    assert len(token) == 43
    assert link.digest == digest_of(token)
    row = StatusLink.objects.values().get()
    assert token not in str(row)
    assert len(row["prefix"]) == 6


def test_link_lasts_to_the_end_of_the_agreement_and_the_days_of_grace(sales: Actor, at: datetime) -> None:
    """Terms of 120 days: 120 + 60; without terms: 60."""
    bare, _ = linking.make_link(build.consignment(at=at).pk, by=sales, at=at)
    agreed, _ = linking.make_link(build.consignment(State.LISTED, at=at).pk, by=sales, at=at)
    assert bare.expires_at - at == timedelta(days=60)
    assert agreed.expires_at - at == timedelta(days=180)
    late = at + timedelta(days=200)  # after the agreement has ended
    again, _ = linking.make_link(agreed.consignment_id, by=sales, at=late)
    assert again.expires_at - late == timedelta(days=60)


def test_new_link_revokes_the_one_before(sales: Actor, at: datetime) -> None:
    stay = build.consignment(at=at)
    _, first = linking.make_link(stay.pk, by=sales, at=at)
    _, second = linking.make_link(stay.pk, by=sales, at=at)
    with pytest.raises(NotFound):
        linking.use_link(first, at=at)
    assert linking.use_link(second, at=at).consignment == stay


def test_use_is_noted_and_logged_once_a_day(sales: Actor, at: datetime) -> None:
    _, token = linking.make_link(build.consignment(at=at).pk, by=sales, at=at)
    for moment in (at, at + timedelta(hours=1), at + timedelta(days=1)):
        assert linking.use_link(token, at=moment).last_used_at == moment
    used = LogEntry.objects.filter(action="link.used")
    assert [(entry.actor_kind, entry.actor_name) for entry in used] == [("link", "consignor's link")] * 2


def test_link_opens_nothing_from_its_last_moment_on(sales: Actor, at: datetime) -> None:
    link, token = linking.make_link(build.consignment(at=at).pk, by=sales, at=at)
    assert linking.use_link(token, at=link.expires_at - timedelta(seconds=1)).pk == link.pk
    with pytest.raises(NotFound):
        linking.use_link(token, at=link.expires_at)


def test_revoked_link_opens_nothing_and_is_revoked_once(sales: Actor, at: datetime) -> None:
    stay = build.consignment(at=at)
    _, token = linking.make_link(stay.pk, by=sales, at=at)
    linking.revoke_link(stay.pk, by=sales, at=at)
    with pytest.raises(NotFound):
        linking.use_link(token, at=at)
    with pytest.raises(NotFound, match="no live private link"):
        linking.revoke_link(stay.pk, by=sales, at=at)


def test_link_acts_as_a_consignor_of_one_stay(sales: Actor, at: datetime) -> None:
    stay = build.consignment(at=at)
    link, _ = linking.make_link(stay.pk, by=sales, at=at)
    actor = linking.actor_of(link)
    assert (actor.role, actor.consignment_id) == (Role.CONSIGNOR, stay.pk)
    assert [act for act in Act if may(actor, act)] == [
        Act.SEE_STATUS,
        Act.ANSWER_CONSENT,
        Act.ASK_QUESTION,
        Act.CHOOSE_MAIL,
    ]


def test_intake_staff_neither_make_nor_revoke_links(intake: Actor, at: datetime) -> None:
    stay = build.consignment(at=at)
    with pytest.raises(NotAllowed):
        linking.make_link(stay.pk, by=intake, at=at)
    with pytest.raises(NotAllowed):
        linking.revoke_link(stay.pk, by=intake, at=at)
