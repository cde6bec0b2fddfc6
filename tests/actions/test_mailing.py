"""Texts are edited in versions; consignors choose what they get."""

from datetime import datetime

import pytest

from inventory.actions import linking, mailing
from inventory.errors import NotAllowed, Refused, TooLate
from inventory.models import LogEntry, MailText, OutMessage
from inventory.queries import messages as queries
from inventory.rules.mail_texts import HOUSE
from inventory.rules.roles import Actor
from inventory.rules.words import MessageKind
from tests import build

pytestmark = pytest.mark.django_db
ARRIVED = MessageKind.ARRIVED


def test_own_wording_is_used_from_then_on_and_taken_back_as_a_version(owner: Actor, at: datetime) -> None:
    mailing.set_text(ARRIVED, subject="{vehicle} is here", body="Hi {name}\r\n{link}", by=owner, at=at)
    mail = OutMessage.objects.get(consignment=build.consignment(at=at))
    assert (mail.subject, mail.text) == ("1968 Merrow Alder is here", "Hi Ada Fenwick\n[[private link]]")
    mailing.set_house_text(ARRIVED, version=1, by=owner, at=at)
    known = queries.text_in_force(ARRIVED)
    assert (known.number, known.is_house, known.wording.subject) == (2, True, HOUSE[ARRIVED].subject)
    assert MailText.objects.count() == 2
    assert LogEntry.objects.filter(action="message.text").count() == 2


def test_wording_that_names_what_is_not_there_or_an_older_version_is_refused(owner: Actor, at: datetime) -> None:
    with pytest.raises(Refused, match="buyer") as refusal:
        mailing.set_text(ARRIVED, subject="x", body="{buyer}", by=owner, at=at)
    assert refusal.value.field == "body"
    mailing.set_text(ARRIVED, subject="x", body="y", version=0, by=owner, at=at)
    with pytest.raises(TooLate):
        mailing.set_text(ARRIVED, subject="x", body="z", version=0, by=owner, at=at)


def test_wording_that_an_update_left_behind_stops_no_deed(at: datetime) -> None:
    MailText(kind=ARRIVED, number=1, subject="{gone}", body="x", by="x", at=at).save()
    mail = OutMessage.objects.get(consignment=build.consignment(at=at))
    assert mail.subject == "Your 1968 Merrow Alder has arrived"
    assert not queries.text_in_force(ARRIVED).fits


def test_sales_staff_do_not_change_texts(sales: Actor, at: datetime) -> None:
    with pytest.raises(NotAllowed):
        mailing.set_text(ARRIVED, subject="x", body="y", by=sales, at=at)


def test_consignor_chooses_for_themselves_alone(sales: Actor, at: datetime) -> None:
    stay, other = build.consignment(at=at), build.consignment(at=at, consignor_name="Nobody Else")
    link, _ = linking.make_link(stay.pk, by=sales, at=at)
    by = linking.actor_of(link)
    mailing.choose(stay.consignor_id, kind=ARRIVED, wanted=False, by=by, at=at)
    assert OutMessage.objects.get(consignment=stay).status == "not_wanted", "what waits is held back too"
    off = [choice.kind for choice in queries.choices_of(stay.consignor) if not choice.wanted]
    assert off == [ARRIVED]
    mailing.choose(stay.consignor_id, kind=ARRIVED, wanted=True, by=by, at=at)
    assert not queries.turned_off(stay.consignor)
    with pytest.raises(NotAllowed):
        mailing.choose(other.consignor_id, kind=ARRIVED, wanted=False, by=by, at=at)


def test_question_that_needs_an_answer_cannot_be_turned_off(sales: Actor, at: datetime) -> None:
    stay = build.consignment(at=at)
    with pytest.raises(Refused, match="cannot be turned off"):
        mailing.choose(stay.consignor_id, kind=MessageKind.CONSENT, wanted=False, by=sales, at=at)
    assert [choice.kind for choice in queries.choices_of(stay.consignor) if not choice.can_be_turned_off] == ["consent"]


def test_mail_that_went_out_is_not_sent_again(sales: Actor, at: datetime) -> None:
    mail = OutMessage.objects.get(consignment=build.consignment(at=at))
    with pytest.raises(TooLate, match="waiting to be sent"):
        mailing.send_again(mail.pk, by=sales, at=at)
