"""The mail of the house: sent when due, reminders and summaries by the calendar, texts edited, kinds chosen."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from inventory.actions import logbook, outbox, sending
from inventory.actions.outbox import News
from inventory.actions.writing import add, trade_day
from inventory.errors import NotAllowed, NotFound, Refused, TooLate
from inventory.models import Consignor, MailChoice, MailText, OutMessage, StatusLink
from inventory.queries import messages as queries
from inventory.queries import summaries
from inventory.queries.messages import turned_off
from inventory.rules.mail_texts import HOUSE, places_of
from inventory.rules.messages import ALWAYS_SENT, SENDABLE_AGAIN, check_places, counted, day, week_of
from inventory.rules.roles import Act, Actor, ActorKind, require
from inventory.rules.words import MessageKind, MessageStatus

MONDAY = 1


@dataclass(frozen=True)
class Pass:
    """One pass: what was decided by the calendar, and what became of what was due."""

    endings: int
    summaries: int
    sent: int
    later: int
    failed: int
    unclear: int

    def __str__(self) -> str:
        return (
            f"{self.sent} sent, {self.later} to be tried again, {self.failed} given up, {self.unclear} unclear; "
            f"{self.endings} reminders and {self.summaries} summaries written."
        )

    @property
    def did_something(self) -> bool:
        return any((self.endings, self.summaries, self.sent, self.later, self.failed, self.unclear))


def run(*, at: datetime) -> Pass:
    """One pass over the calendar and the outbox. Repeated, it does nothing twice."""
    lost = sending.mark_unclear(at=at)
    endings, weeks = queue_endings(at=at), queue_summaries(at=at)
    passed = sending.send_due(at=at)
    return Pass(endings, weeks, passed.sent, passed.later, passed.failed, passed.unclear + lost)


def queue_endings(*, at: datetime) -> int:
    """Remind of agreements that end; each mark once for each version of the terms."""
    due = [
        News(
            stay=one.stay, kind=MessageKind.ENDING, key=one.key,
            values={"ends": day(one.terms.ends_on), "days": counted(one.left, one="day")},
        )
        for one in summaries.endings(today=trade_day(at))
    ]  # fmt: skip
    return _queue_all(due, at=at)


def queue_summaries(*, at: datetime) -> int:
    """On the lot's Monday, tell each consignor of the week before; once a week for each stay."""
    today = trade_day(at)
    if today.isoweekday() != MONDAY:
        return 0
    week = week_of(today)
    told = OutMessage.objects.filter(kind=MessageKind.SUMMARY, event_key__endswith=f":{week}")
    without = {pk for pk in told.values_list("consignment_id", flat=True) if pk is not None}
    due = [
        News(stay=one.stay, kind=MessageKind.SUMMARY, key=f"summary:{one.stay.pk}:{week}", values=one.values)
        for one in summaries.weeks(today=today, without=without)
    ]
    return _queue_all(due, at=at)


def _queue_all(due: list[News], *, at: datetime) -> int:
    return sum(outbox.queue(news, at=at) is not None for news in due)


@transaction.atomic
def send_again(message_id: int, *, by: Actor, at: datetime) -> OutMessage:
    """Queue a mail that did not go out, or may not have, once more: to the address the consignor has now."""
    require(by, Act.SEE_MESSAGES)
    row = OutMessage.objects.select_for_update(of=("self",)).select_related("consignor").filter(pk=message_id).first()
    if row is None:
        raise NotFound("not_found", "There is no such mail.", got=message_id)
    if row.status not in SENDABLE_AGAIN:
        raise TooLate(
            "not_sendable", f"This mail is {row.get_status_display()}.", field="status", got=row.status,
            mend="Only a mail that did not go out is sent again.",
        )  # fmt: skip
    if not row.consignor.email:
        raise Refused(
            "no_address", f"{row.consignor.name} has no e-mail address.", field="email", mend="Record one first."
        )
    row.to, row.status, row.attempts, row.next_try_at = row.consignor.email, MessageStatus.QUEUED, 0, at
    row.save(update_fields=["to", "status", "attempts", "next_try_at"])
    logbook.record("message.again", row, by=by, at=at, consignment=row.consignment, kind=row.get_kind_display())
    outbox.hand_over(row)
    return row


@transaction.atomic
def set_text(
    kind: MessageKind, *, subject: str, body: str, version: int | None = None, by: Actor, at: datetime
) -> MailText:
    """Append a version of the lot's own wording. It may name only what mails of this kind can say."""
    require(by, Act.EDIT_MESSAGES)
    last = queries.latest_text(kind)
    number = last.number if last else 0
    if version is not None and version != number:
        raise TooLate(
            "stale_version", f"This text has changed since you looked: it is at version {number}, yours was {version}.",
            field="version", got=version, mend="Look again, then repeat what still applies.",
        )  # fmt: skip
    check_text(kind, subject=subject, body=body)
    row = add(
        MailText(kind=kind, number=number + 1, subject=subject.strip(), body=_with_plain_lines(body), by=by.name, at=at)
    )
    logbook.record("message.text", row, by=by, at=at, kind=kind.label, number=row.number)
    return row


def set_house_text(kind: MessageKind, *, version: int | None = None, by: Actor, at: datetime) -> MailText:
    """Back to the house's own wording, as a version of its own."""
    own = HOUSE[kind]
    return set_text(kind, subject=own.subject, body=own.body, version=version, by=by, at=at)


def check_text(kind: MessageKind, *, subject: str, body: str) -> None:
    """Refuse a wording that names what this kind does not have."""
    for what, text in (("subject", subject), ("body", body)):
        check_places(text, allowed=places_of(kind), what=what)


def _with_plain_lines(body: str) -> str:
    return body.replace("\r\n", "\n").strip()


@transaction.atomic
def choose(consignor_id: int, *, kind: MessageKind, wanted: bool, by: Actor, at: datetime) -> MailChoice:
    """A consignor turns one kind off or on, on their own page or by word to staff. What waits is held back at once."""
    consignor = Consignor.objects.select_for_update().filter(pk=consignor_id).first()
    if consignor is None:
        raise NotFound("not_found", "There is no such consignor.", got=consignor_id)
    _require_own(by, consignor=consignor)
    if not wanted and kind in ALWAYS_SENT:
        raise Refused(
            "always_sent", f"Mails about {kind.label} cannot be turned off.", field=kind.value, got=wanted,
            mend="They come only when the lot needs your answer.",
        )  # fmt: skip
    row = add(MailChoice(consignor=consignor, kind=kind, wanted=wanted, by=by.name, at=at))
    if not wanted:
        waiting = OutMessage.objects.filter(consignor=consignor, kind=kind, status=MessageStatus.QUEUED)
        waiting.update(status=MessageStatus.NOT_WANTED)
    logbook.record(
        "message.choice", row, by=by, at=at, kind=kind.label, way="on" if wanted else "off", name=consignor.name
    )
    return row


@transaction.atomic
def choose_all(consignor_id: int, *, wanted: Collection[str], by: Actor, at: datetime) -> None:
    """Every kind that may be chosen is on if it is among `wanted`, else off; what is so already is left alone."""
    consignor = Consignor.objects.filter(pk=consignor_id).first()
    off = turned_off(consignor) if consignor else set()
    for kind in MessageKind:
        if kind not in ALWAYS_SENT and (kind in wanted) != (kind not in off):
            choose(consignor_id, kind=kind, wanted=kind in wanted, by=by, at=at)


def _require_own(by: Actor, *, consignor: Consignor) -> None:
    """A private link chooses for the consignor of its stay alone; staff for whoever asked them to."""
    if by.kind != ActorKind.LINK:
        require(by, Act.SEE_MESSAGES)
        return
    require(by, Act.CHOOSE_MAIL)
    own = StatusLink.objects.filter(consignment__consignor=consignor, revoked_at__isnull=True)
    if by.id is None or not own.filter(pk=by.id).exists():
        raise NotAllowed("not_allowed", "This link is of another consignor.", mend="Ask the lot for yours.")
