"""A mail is sent once: through an outage, past a worker that died, and never by two workers."""

import smtplib
from collections import Counter
from datetime import datetime, timedelta

import pytest
from pytest_django import DjangoCaptureOnCommitCallbacks, Settings

from inventory.actions import linking, mailing, outbox, sending
from inventory.actions.outbox import News
from inventory.models import Lot, OutMessage, StatusLink
from inventory.rules.messages import MOST_ATTEMPTS
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.rules.words import MessageKind
from tests import build
from tests.mailbox import Mailbox, cut_off, refused

pytestmark = pytest.mark.django_db
MINUTE = timedelta(minutes=1)


@pytest.fixture(autouse=True)
def mailbox(settings: Settings) -> None:
    settings.EMAIL_BACKEND = "tests.mailbox.Mailbox"
    Mailbox.empty()


@pytest.fixture
def mail(at: datetime) -> OutMessage:
    """One that waits: of a vehicle that came in."""
    return OutMessage.objects.get(consignment=build.consignment(at=at))


def test_outage_of_an_hour_loses_nothing_and_doubles_nothing(at: datetime) -> None:
    """40 events in an outage of 60 minutes, a pass every minute: each mail goes out once, an hour later at most."""
    stay = build.consignment(at=at)
    mailing.run(at=at)
    Mailbox.empty()
    for minute in [*range(65), *range(65, 126, 5)]:
        Mailbox.is_down, now = minute < 60, at + minute * MINUTE
        if minute < 40:
            news = News(stay=stay, kind=MessageKind.ANSWER, key=f"test:{minute}", values={"text": str(minute)})
            outbox.queue(news, at=now)
        mailing.run(at=now)
    rows = OutMessage.objects.filter(kind=MessageKind.ANSWER)
    sent = Counter(message.extra_headers["Message-ID"] for message in Mailbox.taken)
    assert sent == Counter(rows.values_list("message_id", flat=True))
    assert (len(sent), set(sent.values())) == (40, {1})
    assert set(rows.values_list("status", flat=True)) == {"sent"}
    assert max(rows.values_list("attempts", flat=True)) <= 5
    assert Mailbox.tries <= 60 + 40  # one failed try a pass, then each mail once


def test_outage_of_a_day_is_survived_and_one_without_end_is_given_up(mail: OutMessage, at: datetime) -> None:
    Mailbox.is_down = True
    for hour in range(24):
        mailing.run(at=at + timedelta(hours=hour))
    mail.refresh_from_db()
    assert (mail.status, mail.last_error) == ("queued", "Connection refused")
    OutMessage.objects.filter(pk=mail.pk).update(attempts=MOST_ATTEMPTS - 1, next_try_at=at)
    assert sending.send_due(at=at).failed == 1
    mail.refresh_from_db()
    assert (mail.status, mail.attempts) == ("failed", MOST_ATTEMPTS)


def test_mail_is_claimed_once_and_not_before_its_time(mail: OutMessage, at: datetime) -> None:
    assert sending.claim(mail.pk, at=at - MINUTE) is None
    taken = sending.claim(mail.pk, at=at)
    assert taken is not None
    assert (taken.status, taken.attempts) == ("sending", 1)
    assert sending.claim(mail.pk, at=at) is None


def test_killed_worker_leaves_it_unclear_for_a_person(mail: OutMessage, sales: Actor, at: datetime) -> None:
    sending.claim(mail.pk, at=at)
    assert mailing.run(at=at + 14 * MINUTE).unclear == 0
    assert mailing.run(at=at + 16 * MINUTE).unclear == 1
    assert mailing.run(at=at + timedelta(days=2)).sent == 0
    mailing.send_again(mail.pk, by=sales, at=at + timedelta(days=2))
    assert mailing.run(at=at + timedelta(days=2)).sent == 1


def test_cut_off_after_the_text_is_unclear_not_tried_again(mail: OutMessage, at: datetime) -> None:
    Mailbox.answers = [cut_off()]
    assert sending.send_due(at=at).unclear == 1
    assert sending.send_due(at=at + timedelta(days=1)).sent == 0
    assert OutMessage.objects.get(pk=mail.pk).last_error.startswith("Cut off while the text was handed over")


@pytest.mark.parametrize(
    ("answer", "status", "error"),
    [
        (refused(550), "failed", "550 5.1.1 no such mailbox"),
        (refused(450), "queued", "450 5.1.1 no such mailbox"),
        (smtplib.SMTPDataError(452, b"4.3.1 too much mail"), "queued", "452 4.3.1 too much mail"),
        (TimeoutError("timed out"), "queued", "timed out"),
    ],
)
def test_what_a_server_answers_decides_whether_it_is_tried_again(
    mail: OutMessage, at: datetime, answer: Exception, status: str, error: str
) -> None:
    """RFC 5321, 4.2.1: 5yz to the recipient is a permanent no, 4yz one for now."""
    Mailbox.answers = [answer]
    sending.send_due(at=at)
    mail.refresh_from_db()
    assert (mail.status, mail.last_error, mail.sent_at) == (status, error, None)


def test_one_refused_address_does_not_hold_up_the_next_mail(at: datetime) -> None:
    build.consignment(at=at)
    build.consignment(at=at)
    Mailbox.answers = [refused(450)]
    assert sending.send_due(at=at) == sending.Passed(sent=1, later=1)


def test_header_that_cannot_be_written_is_given_up_with_its_reason(mail: OutMessage, at: datetime) -> None:
    OutMessage.objects.filter(pk=mail.pk).update(to="ada@example.org\nBcc: eve@example.org")
    assert sending.send_due(at=at).failed == 1
    assert not Mailbox.taken
    assert "newlines" in OutMessage.objects.get(pk=mail.pk).last_error


def test_mail_holds_a_link_that_opens_while_no_row_holds_its_token(
    mail: OutMessage, settings: Settings, at: datetime
) -> None:
    settings.PUBLIC_URL = "https://lot.example"
    Lot.objects.update_or_create(pk=1, defaults={"name": "Fen & Sons <lot>", "address": "1 Mill Lane"})
    sending.send_due(at=at)
    (sent,) = Mailbox.taken
    link = StatusLink.objects.get()
    token = linking.token_of(link)
    address = f"https://lot.example/status/open/{token}"
    html = str(sent.alternatives[0][0])  # type: ignore[attr-defined]
    assert address in str(sent.body)
    assert html.count(f'href="{address}"') == 1
    assert "Fen &amp; Sons &lt;lot&gt;" in html
    assert "Fen & Sons <lot>\n1 Mill Lane" in str(sent.body)
    assert linking.use_link(token, at=at) == link
    assert token not in str(list(OutMessage.objects.values())) + str(list(StatusLink.objects.values()))


def test_second_mail_uses_the_same_link_and_a_link_of_old_is_not_revoked(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.INSPECTED, at=at)
    sending.send_due(at=at)
    assert (len(Mailbox.taken), StatusLink.objects.count()) == (2, 1)
    StatusLink.objects.update(seed="")  # made before tokens could be worked out again
    mail = OutMessage.objects.filter(consignment=stay).latest("pk")
    sent = sending.compose(mail, at=at, connection=Mailbox())
    assert "Your page: the private link that the lot gave you" in str(sent.body)
    assert StatusLink.objects.get().revoked_at is None


def test_sent_again_goes_to_the_address_of_today(mail: OutMessage, sales: Actor, at: datetime) -> None:
    Mailbox.answers = [refused(550)]
    sending.send_due(at=at)
    mail.consignor.email = "fenwick@example.org"
    mail.consignor.save()
    mailing.send_again(mail.pk, by=sales, at=at)
    sending.send_due(at=at)
    assert [message.to for message in Mailbox.taken] == [["fenwick@example.org"]]


def test_worker_gets_it_after_the_commit_and_no_request_sends_it_otherwise(
    settings: Settings, at: datetime, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
) -> None:
    with django_capture_on_commit_callbacks() as handed:
        mail = OutMessage.objects.get(consignment=build.consignment(at=at))
        assert not handed, "TASKS=immediate: the mail waits for `manage.py mail`"
        settings.TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend"}}
        outbox.hand_over(mail)
    assert len(handed) == 1
    assert not Mailbox.taken
    sending.send_message.call(message_id=mail.pk)
    assert len(Mailbox.taken) == 1
