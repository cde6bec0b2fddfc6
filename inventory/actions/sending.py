"""One mail is sent once: claimed by one conditional UPDATE, sent outside of any transaction, then marked.

What surely was not taken is tried again; what may have been taken is left to a person.
"""

import smtplib
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from time import monotonic
from typing import Any

from django.conf import settings
from django.core.mail import EmailMultiAlternatives, get_connection
from django.core.mail.backends.base import BaseEmailBackend
from django.db.models import F
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from django_tasks import task

from inventory.actions import linking
from inventory.models import OutMessage
from inventory.queries.facts import the_lot
from inventory.queries.messages import due
from inventory.rules.messages import LINK_MARK, UNCLEAR_AFTER, next_try, paragraphs, with_link
from inventory.rules.roles import command
from inventory.rules.words import MessageStatus
from inventory.smtp import MayBeSent

SENDER = command("the mail")
AT_ONCE = 50  # mails of one pass
_NOT_WORTH_GOING_ON = (smtplib.SMTPServerDisconnected, smtplib.SMTPConnectError, smtplib.SMTPHeloError,
                       smtplib.SMTPAuthenticationError, smtplib.SMTPNotSupportedError)  # fmt: skip


@dataclass(frozen=True)
class Passed:
    """What one pass over the outbox did."""

    sent: int = 0
    later: int = 0
    failed: int = 0
    unclear: int = 0


@task()
def send_message(*, message_id: int) -> None:
    """What the worker does right after a deed. What does not go out then goes out with `manage.py mail`."""
    send_due(at=timezone.now(), only=message_id)


def send_due(*, at: datetime, only: int | None = None) -> Passed:
    """Send what is due over one connection. When the server itself fails, the rest is left for the next pass."""
    counts = dict.fromkeys(("sent", "later", "failed", "unclear"), 0)
    connection = get_connection()
    began = monotonic()
    try:
        for message_id in due(at=at, most=AT_ONCE, only=only):
            # By now, not by when the pass began: on a slow server a pass can outlast what counts as cut off.
            row = claim(message_id, at=at + timedelta(seconds=monotonic() - began))
            if row is None:
                continue  # another worker has it
            end = _send(row, connection=connection, at=at)
            counts[end.count] += 1
            if end.server_down:
                break
    finally:
        with suppress(OSError):  # what was sent is sent, however the goodbye goes
            connection.close()
    return Passed(**counts)


def claim(message_id: int, *, at: datetime) -> OutMessage | None:
    """Take one mail for this worker alone; None when it is not due, or another one was faster."""
    waiting = OutMessage.objects.filter(pk=message_id, status=MessageStatus.QUEUED, next_try_at__lte=at)
    taken = waiting.update(status=MessageStatus.SENDING, claimed_at=at, attempts=F("attempts") + 1)
    return OutMessage.objects.select_related("consignment").get(pk=message_id) if taken else None


def mark_unclear(*, at: datetime) -> int:
    """Mails whose worker is gone: they may have gone out, so that only a person sends them again."""
    left = OutMessage.objects.filter(status=MessageStatus.SENDING, claimed_at__lt=at - UNCLEAR_AFTER)
    return left.update(status=MessageStatus.UNCLEAR, last_error="Its worker stopped while sending it.")


@dataclass(frozen=True)
class _End:
    count: str
    server_down: bool = False


def _send(row: OutMessage, *, connection: BaseEmailBackend, at: datetime) -> _End:
    try:
        mail = compose(row, at=at, connection=connection)
        mail.message()  # a header that cannot be written is found before anything is sent
    except ValueError as problem:
        return _mark(row, _End("failed"), status=MessageStatus.FAILED, error=str(problem))
    try:
        connection.open()
        connection.send_messages([mail])
    except MayBeSent as problem:
        return _mark(row, _End("unclear", server_down=True), status=MessageStatus.UNCLEAR, error=str(problem))
    except smtplib.SMTPRecipientsRefused as problem:
        return _refused(row, problem, at=at)
    except OSError as problem:  # every exception of smtplib is one
        return _try_later(row, told_by(problem), server_down=_is_down(problem), at=at)
    return _mark(row, _End("sent"), status=MessageStatus.SENT, sent_at=at)


def _refused(row: OutMessage, problem: smtplib.SMTPRecipientsRefused, *, at: datetime) -> _End:
    """RFC 5321, 4.2.1: 5yz is a permanent no, 4yz one for now."""
    answers = list(problem.recipients.values())
    words = "; ".join(_answer(code, text) for code, text in answers)
    if all(code >= 500 for code, _ in answers):
        return _mark(row, _End("failed"), status=MessageStatus.FAILED, error=words)
    return _try_later(row, words, server_down=any(code == 421 for code, _ in answers), at=at)


def _is_down(problem: OSError) -> bool:
    """Whether the next mail would fare no better: not an answer to this one alone."""
    if isinstance(problem, smtplib.SMTPResponseException) and not isinstance(problem, _NOT_WORTH_GOING_ON):
        return problem.smtp_code == 421
    return True


def _try_later(row: OutMessage, words: str, *, server_down: bool, at: datetime) -> _End:
    again_at = next_try(row.attempts, at=at)
    if again_at is None:
        return _mark(row, _End("failed", server_down), status=MessageStatus.FAILED, error=words)
    return _mark(row, _End("later", server_down), status=MessageStatus.QUEUED, error=words, next_try_at=again_at)


def _mark(row: OutMessage, end: _End, *, status: MessageStatus, error: str = "", **columns: Any) -> _End:
    """Say how this try ended, unless somebody has sent it again in the meantime."""
    ours = OutMessage.objects.filter(
        pk=row.pk, claimed_at=row.claimed_at, status__in=[MessageStatus.SENDING, MessageStatus.UNCLEAR]
    )
    ours.update(status=status, last_error=error[:300], **columns)
    return end


def told_by(problem: OSError) -> str:
    """The server's own words where it said something."""
    if isinstance(problem, smtplib.SMTPResponseException):
        return _answer(problem.smtp_code, problem.smtp_error)
    return str(problem) or type(problem).__name__


def _answer(code: int, text: bytes | str) -> str:
    words = text.decode("utf-8", "replace") if isinstance(text, bytes) else text
    return f"{code} {' '.join(words.split())}"


def compose(row: OutMessage, *, at: datetime, connection: BaseEmailBackend) -> EmailMultiAlternatives:
    """The mail itself, in text and HTML, with the private link put in only now."""
    address, lot = _address(row, at=at), the_lot()
    context = {
        "lot": lot, "paragraphs": paragraphs(row.text), "mark": LINK_MARK, "address": address, "subject": row.subject,
        "has_link": LINK_MARK in row.text,
    }  # fmt: skip
    foot = render_to_string("inventory/messages/mail_foot.txt", context)
    text = with_link(f"{row.text.rstrip()}\n\n{foot}", address=address)
    mail = EmailMultiAlternatives(
        row.subject, text, settings.DEFAULT_FROM_EMAIL, [row.to],
        headers={"Message-ID": row.message_id}, reply_to=[lot.email] if lot.email else None, connection=connection,
    )  # fmt: skip
    mail.attach_alternative(render_to_string("inventory/messages/mail.html", context), "text/html")
    return mail


def _address(row: OutMessage, *, at: datetime) -> str:
    if row.consignment_id is None:
        return ""
    token = linking.token_for_mail(row.consignment_id, by=SENDER, at=at)
    return f"{settings.PUBLIC_URL}{reverse('open_link', args=[token])}" if token else ""
