"""A consignor turns kinds of mail off and on; what needs their agreement is always sent."""

from datetime import datetime

import pytest

from inventory.actions import linking, mail_choices
from inventory.errors import NotAllowed, Refused
from inventory.models import LogEntry, MailChoice, StatusLink
from inventory.queries.mail_choices import unwanted
from inventory.rules.roles import Actor
from tests import build

pytestmark = pytest.mark.django_db


@pytest.fixture
def link(at: datetime) -> StatusLink:
    return linking.make_link(build.consignment(at=at).pk, by=build.BUILDER, at=at)[0]


def test_choice_is_kept_logged_and_repeated_only_when_it_changes(link: StatusLink, at: datetime) -> None:
    by = linking.actor_of(link)
    for wanted in (False, False, True):
        mail_choices.choose(link=link, kind="offer", wanted=wanted, by=by, at=at)
    assert list(MailChoice.objects.order_by("pk").values_list("wanted", flat=True)) == [False, True]
    told = LogEntry.objects.filter(action="mail.chosen").values_list("data", flat=True)
    assert [(entry["kind"], entry["way"]) for entry in told] == [("offers", "off"), ("offers", "on")]


def test_what_is_not_among_the_wanted_is_off(link: StatusLink, at: datetime) -> None:
    mail_choices.choose_all(link=link, wanted=["sold", "paid"], by=linking.actor_of(link), at=at)
    off = unwanted(link.consignment.consignor)
    assert {"offer", "summary"} <= off
    assert not {"sold", "paid", "consent"} & off


def test_questions_that_need_agreement_cannot_be_turned_off(link: StatusLink, at: datetime) -> None:
    with pytest.raises(Refused, match="always sent"):
        mail_choices.choose(link=link, kind="consent", wanted=False, by=linking.actor_of(link), at=at)


def test_unknown_kind_other_link_and_staff_are_refused(link: StatusLink, owner: Actor, at: datetime) -> None:
    other, _ = linking.make_link(build.consignment(at=at).pk, by=build.BUILDER, at=at)
    with pytest.raises(Refused, match="no mail called"):
        mail_choices.choose(link=link, kind="gossip", wanted=False, by=linking.actor_of(link), at=at)
    for by in (linking.actor_of(other), owner):
        with pytest.raises(NotAllowed):
            mail_choices.choose(link=link, kind="offer", wanted=False, by=by, at=at)
