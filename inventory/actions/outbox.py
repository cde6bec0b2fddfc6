"""What is told to a consignor is decided here, in the transaction of the deed, and sent after it.

Mails follow from entries of the log by the table in `rules/messages.py`; reminders and summaries are decided by
`actions/mailing.py`. `logbook` calls this module, so this module may not call `logbook`.
"""

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from email.utils import parseaddr
from functools import partial

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from inventory.actions import sending, workers
from inventory.models import (
    AskChange,
    Consignment,
    Consignor,
    Deal,
    Disbursement,
    LogEntry,
    Offer,
    OutMessage,
    SaleOutcome,
    Settlement,
)
from inventory.queries import facts
from inventory.queries.messages import turned_off, wording_of
from inventory.rules import mail_texts, money
from inventory.rules.messages import LINK_MARK, TOLD_ACTIONS, day, kind_of
from inventory.rules.words import MessageKind, MessageStatus, Payee

Values = dict[str, str]


@dataclass(frozen=True, kw_only=True)
class News:
    """What one mail is about: said once, whatever happens."""

    stay: Consignment
    kind: MessageKind
    key: str
    values: Values


def queue_for(entry: LogEntry) -> OutMessage | None:
    """The mail that follows from an entry of the log, if any."""
    if entry.action not in TOLD_ACTIONS or entry.consignment_id is None:
        return None
    stay = Consignment.objects.select_related("vehicle", "consignor").get(pk=entry.consignment_id)  # as it stands now
    kind = kind_of(entry.action, data=entry.data, state=stay.state)
    if kind is None or stay.consignor.is_lot:
        return None
    if kind == MessageKind.ARRIVED and stay.imported_with_id is not None:
        return None  # it was here before the books were: no news to its owner
    values = _SAYS[kind](stay, entry)
    if values is None:
        return None
    values.setdefault("date", day(timezone.localdate(entry.at)))
    return queue(News(stay=stay, kind=kind, key=f"log:{entry.pk}", values=values), at=entry.at)


def queue(news: News, *, at: datetime) -> OutMessage | None:
    """Write the mail; None where it was written before. It is handed to the worker once the deed is through."""
    stay = news.stay
    filled = mail_texts.filled(wording_of(news.kind), values={**_about(stay), **news.values})
    status = _status(stay.consignor, kind=news.kind)
    row, is_new = OutMessage.objects.get_or_create(
        event_key=news.key,
        defaults={
            "consignment": stay, "consignor": stay.consignor, "kind": news.kind, "to": stay.consignor.email,
            "subject": filled.subject, "text": filled.body, "status": status, "message_id": _new_message_id(),
            "next_try_at": at if status == MessageStatus.QUEUED else None, "made_at": at,
        },
    )  # fmt: skip
    if is_new and status == MessageStatus.QUEUED:
        hand_over(row)
    return row if is_new else None


def hand_over(row: OutMessage) -> None:
    """Let the worker send it after the commit. Without one it waits for `manage.py mail`: no request sends mail."""
    if workers.has_worker():
        transaction.on_commit(partial(sending.send_message.enqueue, message_id=row.pk), robust=True)


def _status(consignor: Consignor, *, kind: MessageKind) -> MessageStatus:
    if not consignor.email:
        return MessageStatus.NO_ADDRESS
    return MessageStatus.NOT_WANTED if kind in turned_off(consignor) else MessageStatus.QUEUED


def _about(stay: Consignment) -> Values:
    """What every mail can say."""
    return {
        "name": stay.consignor.name, "vehicle": str(stay.vehicle), "stock_number": stay.stock_number,
        "lot": facts.the_lot().name, "link": LINK_MARK,
    }  # fmt: skip


def _new_message_id() -> str:
    """Fixed before the first try: should a mail go out twice after all, the reader's program knows it again."""
    host = parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2] or "localhost"
    return f"<{uuid.uuid4().hex}@{host}>"


# What each kind says of its own, from the row that the entry is about. None: this one is not told.


def _nothing(_: Consignment, __: LogEntry) -> Values | None:
    return {}


def _listed(stay: Consignment, _: LogEntry) -> Values | None:
    ask = facts.current_ask(stay)
    return None if ask is None else {"ask": money.show(ask.amount)}


def _price_change(stay: Consignment, entry: LogEntry) -> Values | None:
    now = AskChange.objects.get(pk=entry.subject_id)
    before = AskChange.objects.filter(consignment=stay, pk__lt=now.pk).order_by("-pk").first()
    if before is None or before.amount == now.amount:
        return None
    return {"ask": money.show(now.amount), "before": money.show(before.amount), "date": day(now.on)}


def _offer(_: Consignment, entry: LogEntry) -> Values | None:
    row = Offer.objects.get(pk=entry.subject_id)
    return None if row.held_back else {"amount": money.show(row.amount), "date": day(row.on)}


def _deposit(_: Consignment, entry: LogEntry) -> Values | None:
    row = Deal.objects.get(pk=entry.subject_id)
    until = day(row.hold_until) if row.hold_until else "further notice"
    return {"price": money.show(row.price), "until": until}


def _sold(_: Consignment, entry: LogEntry) -> Values | None:
    row = SaleOutcome.objects.get(pk=entry.subject_id)
    return None if row.price is None else {"price": money.show(row.price), "date": day(row.ended_on)}


def _settled(_: Consignment, entry: LogEntry) -> Values | None:
    row = Settlement.objects.get(pk=entry.subject_id)
    if row.is_reversal:
        return None
    return {"number": row.number, "amount": money.show(row.due), "pay_by": day(row.pay_by)}


def _paid(_: Consignment, entry: LogEntry) -> Values | None:
    row = Disbursement.objects.get(pk=entry.subject_id)
    if row.payee_kind != Payee.CONSIGNOR:
        return None
    return {"amount": money.show(row.amount), "date": day(row.on), "way": row.get_method_display()}


def _text(_: Consignment, entry: LogEntry) -> Values | None:
    return {"text": str(entry.data.get("text", ""))}


_SAYS: dict[MessageKind, Callable[[Consignment, LogEntry], Values | None]] = {
    MessageKind.ARRIVED: _nothing,
    MessageKind.INSPECTED: _nothing,
    MessageKind.LISTED: _listed,
    MessageKind.PRICE_CHANGE: _price_change,
    MessageKind.OFFER: _offer,
    MessageKind.DEPOSIT: _deposit,
    MessageKind.FELL_THROUGH: _nothing,
    MessageKind.SOLD: _sold,
    MessageKind.SETTLED: _settled,
    MessageKind.PAID: _paid,
    MessageKind.CONSENT: _text,
    MessageKind.ANSWER: _text,
}
