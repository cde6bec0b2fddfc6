"""The list of mails, sending again, and the texts."""

from datetime import datetime

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.models import MailText, OutMessage
from inventory.rules.roles import Actor
from inventory.rules.words import MessageKind
from tests import build
from tests.pages.browse import sign_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def now() -> datetime:
    return timezone.now()


def failed(now: datetime, *, status: str = "failed") -> OutMessage:
    mail = OutMessage.objects.get(consignment=build.consignment(at=now))
    OutMessage.objects.filter(pk=mail.pk).update(status=status, last_error="550 no such mailbox", attempts=1)
    return mail


def test_failures_come_first_and_are_sent_again_with_one_button(client: Client, sales: Actor, now: datetime) -> None:
    failed(now, status="unclear")
    mail = failed(now)
    build.consignment(at=now)
    sign_in(client, sales)
    assert "2 mails could not be sent" in text_of(client.get(reverse("lot")))
    page = text_of(client.get(reverse("mails")))
    assert "1 mail could not be sent." in page
    assert "1 mail was cut off while being sent and may have gone out. Nothing sends it again but you." in page
    assert page.index("550 no such mailbox") < page.index("Waiting to be sent</span>")
    client.post(reverse("send_mail_again", args=[mail.pk]))
    assert OutMessage.objects.get(pk=mail.pk).status == "queued"
    told = text_of(client.post(reverse("send_mail_again", args=[mail.pk]), follow=True))
    assert "This mail is waiting to be sent." in told


def test_list_narrows_by_status_and_shows_no_private_link(client: Client, sales: Actor, now: datetime) -> None:
    failed(now)
    build.consignment(at=now)
    response = sign_in(client, sales).get(reverse("mails"), {"status": "queued"})
    assert [mail.row.status for mail in response.context["shown"].rows] == ["queued"]
    assert "[[private link]]" in text_of(response)
    assert client.get(reverse("mails"), {"status": "sunk"}).status_code == 200


def test_list_needs_as_many_queries_for_many_as_for_few(client: Client, sales: Actor, now: datetime) -> None:
    def count() -> int:
        with CaptureQueriesContext(connection) as captured:
            assert client.get(reverse("mails")).status_code == 200
        return len(captured)

    sign_in(client, sales)
    for _ in range(3):
        failed(now)
    few = count()
    for _ in range(12):
        failed(now)
    assert count() == few


def test_intake_staff_see_no_mail_and_no_count_of_it(client: Client, intake: Actor, now: datetime) -> None:
    failed(now)
    page = text_of(sign_in(client, intake).get(reverse("lot")))
    assert "could not be sent" not in page
    assert reverse("mails") not in page


def test_text_is_looked_at_kept_and_taken_back(client: Client, owner: Actor) -> None:
    address = reverse("mail_text", args=["sold"])
    sign_in(client, owner)
    given = {"subject": "Sold for {price}", "body": "Hello {name} & co\n\n{link}", "version": "0"}
    looked = text_of(client.post(address, {**given, "do": "look"}))
    assert "Sold for $47,000.00" in looked
    assert "Hello Ada Fenwick &amp; co" in looked
    assert not MailText.objects.exists()
    assert client.post(address, {**given, "do": "keep"}).status_code == 302
    assert "The lot's own, version 1" in text_of(client.get(reverse("mail_texts"))).replace("&#x27;", "'")
    client.post(address, {**given, "version": "1", "do": "own"})
    assert [row.number for row in MailText.objects.order_by("pk")] == [1, 2]
    assert "Back to the house's own" not in text_of(client.get(address))


def test_text_with_a_place_that_is_not_there_is_told_on_its_field(client: Client, owner: Actor) -> None:
    given = {"subject": "x", "body": "{buyer}", "version": "0"}
    for do in ("look", "keep"):
        response = sign_in(client, owner).post(reverse("mail_text", args=["sold"]), {**given, "do": do})
        assert response.status_code == 422
        assert "“{buyer}” is nothing that this mail can say." in text_of(response)
    assert not MailText.objects.exists()


@pytest.mark.parametrize("kind", MessageKind)
def test_every_kind_has_its_page(client: Client, owner: Actor, kind: MessageKind) -> None:
    assert sign_in(client, owner).get(reverse("mail_text", args=[kind.value])).status_code == 200


def test_kind_that_is_none_is_not_found(client: Client, owner: Actor) -> None:
    assert sign_in(client, owner).get(reverse("mail_text", args=["nonsense"])).status_code == 404
