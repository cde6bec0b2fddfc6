"""What leaves the lot: the vehicle, signed for by whoever collects it, and its title papers."""

import hashlib
import uuid
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.core.files.base import ContentFile
from django.db import transaction

from inventory.actions import logbook
from inventory.actions.moving import move
from inventory.actions.writing import add, again, change, locked, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import Consignment, Release, TitlePaper, TitleSending
from inventory.papers.release_receipt import release_receipt
from inventory.queries import facts
from inventory.queries.history import live_outcome
from inventory.queries.releases import release_paper
from inventory.queries.titles import counting_paper, had_lien, papers_seen
from inventory.rules import releases, states, titles
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.rules.signatures import Signature, check_signature
from inventory.rules.states import State
from inventory.rules.words import TitleKind


@dataclass(frozen=True, kw_only=True)
class ReleaseReceipt:
    """What whoever collects the vehicle signs for. Their name is `signed_for_by` of the release itself."""

    collector: str
    signature: Signature = field(default_factory=Signature)
    mileage: int | None = None
    keys_count: int | None = None
    note: str = ""
    handed_over_by: str
    client_key: uuid.UUID | None = None


@dataclass(frozen=True, kw_only=True)
class Sending:
    """Where a paper goes: to whom, how (with its tracking number), on which day."""

    to_whom: str
    way: str = ""
    on: date | None = None


@transaction.atomic
def release(
    consignment_id: int, *, signed_for_by: str, on: date | None = None, receipt: ReleaseReceipt | None = None,
    by: Actor, at: datetime, version: int | None = None,
) -> Consignment:  # fmt: skip
    """The vehicle leaves: to its consignor when withdrawn, to the buyer when sold and paid.

    With a receipt its paper is signed, printed and kept in the same transaction; sent twice it is the same one.
    """
    require(by, Act.RELEASE)
    if receipt is not None and (known := again(Release, client_key=receipt.client_key)) is not None:
        return known.consignment
    stay = locked(consignment_id, version=version)
    sold = stay.state != State.WITHDRAWN
    day = _day_after_end(stay, on=on, at=at)
    if not sold:
        row = move(stay.pk, to=State.RELEASED, by=by, at=at, signed_for_by=signed_for_by)
        row = change(row, released_on=day)
    else:
        row = _hand_over(stay, signed_for_by=signed_for_by, on=day, by=by, at=at)
    if receipt is not None:
        _sign(row, receipt=receipt, sold=sold, on=day, by=by, at=at)
    logbook.record("consignment.released", row, by=by, at=at, signed_for_by=row.signed_for_by, on=row.released_on)
    return row


def _sign(stay: Consignment, *, receipt: ReleaseReceipt, sold: bool, on: date, by: Actor, at: datetime) -> Release:
    """The receipt of a vehicle that leaves: checked, printed and kept with what it was signed with."""
    collector = releases.check_collector(receipt.collector, sold=sold)
    releases.check_authority(collector, note=receipt.note)
    signed, strokes = check_signature(receipt.signature, name=stay.signed_for_by, field="strokes")
    row = Release(
        consignment=stay, collected_by=stay.signed_for_by, collector=collector, signed=signed, strokes=strokes,
        mileage=receipt.mileage, keys_count=receipt.keys_count, note=receipt.note.strip(),
        handed_over_by=receipt.handed_over_by.strip(), client_key=receipt.client_key, on=on,
        by=by.name, at=at,
    )  # fmt: skip
    content = release_receipt(release_paper(row))
    row.sha256 = hashlib.sha256(content).hexdigest()
    row.file = ContentFile(content, name=f"{row.code}.pdf")
    add(row)
    logbook.record(
        "release.signed", row, by=by, at=at, consignment=stay, name=row.collected_by,
        collector=row.get_collector_display(), giver=row.handed_over_by, sha256=row.sha256,
    )  # fmt: skip
    return row


def _hand_over(stay: Consignment, *, signed_for_by: str, on: date, by: Actor, at: datetime) -> Consignment:
    _require_sold_and_kept(stay)
    found = facts.facts_of(stay, today=trade_day(at), by=by, to=State.RELEASED, signed_for_by=signed_for_by)
    for need in (states.needs_cleared_money, states.needs_signature):
        if (refusal := need(found)) is not None:
            raise refusal
    return change(stay, released_on=on, signed_for_by=signed_for_by.strip())


def _day_after_end(stay: Consignment, *, on: date | None, at: datetime) -> date:
    """The day something left the lot: not in the future, and not before the stay was sold or withdrawn."""
    today = trade_day(at)
    day = check_not_future(on or today, today=today, field="on")
    ended = live_outcome(stay)
    if ended is not None and day < ended.ended_on:
        raise Refused(
            "left_before_end", f"It would have left on {day}, before {ended.ended_on}, when it was {ended.result}.",
            field="on", got=str(day), mend="Check the two dates.",
        )  # fmt: skip
    return day


@transaction.atomic
def send_title(
    consignment_id: int, *, on: date | None = None, to_whom: str = "", way: str = "", by: Actor, at: datetime
) -> Consignment:
    """The title goes to the buyer: only once the money has cleared and a lien is released. Check local law."""
    require(by, Act.RELEASE)
    stay = locked(consignment_id)
    if stay.state not in {State.SOLD, State.SETTLED} or stay.title_sent_on is not None:
        raise Refused(
            "no_title_to_send", f"There is no title of {stay.stock_number} to send now.", field="state",
            got=stay.state, mend="The title is sent once, after a sale.",
        )  # fmt: skip
    day = _day_after_end(stay, on=on, at=at)
    refusal = states.needs_cleared_money(facts.facts_of(stay, today=trade_day(at), by=by, to=State.RELEASED))
    if refusal is not None:
        raise refusal
    in_hand = titles.lien_release_in_hand(papers_seen(stay), on=day)
    releases.check_lien_released(had_lien=had_lien(stay), release_in_hand=in_hand)
    deal = facts.live_deal(stay)
    sending = Sending(to_whom=to_whom.strip() or (deal.buyer if deal else ""), way=way, on=day)
    row = _send(stay, paper=counting_paper(stay), sending=sending, by=by, at=at)
    change(stay, title_sent_on=day)
    logbook.record(
        "consignment.title_sent", stay, by=by, at=at, on=stay.title_sent_on, to=f" to {row.to_whom}", way=_told(row)
    )
    return stay


@transaction.atomic
def send_paper(consignment_id: int, *, paper_id: int, sending: Sending, by: Actor, at: datetime) -> TitleSending:
    """Any other paper goes out, to a lender or an authority, say. The title goes to the buyer by `send_title`."""
    require(by, Act.RELEASE)
    stay = locked(consignment_id)
    paper = TitlePaper.objects.filter(pk=paper_id, vehicle=stay.vehicle_id).first()
    if paper is None:
        raise NotFound("not_found", f"There is no such paper of {stay.stock_number}.", field="paper", got=paper_id)
    _refuse_title_to_buyer(stay, paper=paper, to_whom=sending.to_whom)
    row = _send(stay, paper=paper, sending=sending, by=by, at=at)
    logbook.record(
        "title.sent", row, by=by, at=at, consignment=stay, kind=paper.get_kind_display(), number=paper.number,
        to=row.to_whom, on=row.on, way=_told(row),
    )  # fmt: skip
    return row


def _refuse_title_to_buyer(stay: Consignment, *, paper: TitlePaper, to_whom: str) -> None:
    """Else a title could leave before the money has cleared, as any other paper."""
    deal = facts.live_deal(stay)
    if deal is None or paper.kind != TitleKind.TITLE or titles.same_name(deal.buyer) != titles.same_name(to_whom):
        return
    raise Refused(
        "title_to_buyer", f"{to_whom.strip()} is the buyer: the title goes to them as the title.", field="to_whom",
        got=to_whom, mend="Use “Title sent to the buyer” on the sale desk, once the money has cleared.",
    )  # fmt: skip


def _send(stay: Consignment, *, paper: TitlePaper | None, sending: Sending, by: Actor, at: datetime) -> TitleSending:
    today = trade_day(at)
    return add(
        TitleSending(
            consignment=stay, paper=paper, to_whom=sending.to_whom.strip(), way=sending.way.strip(),
            on=check_not_future(sending.on or today, today=today, field="on"), by=by.name, at=at,
        )
    )  # fmt: skip


def _told(row: TitleSending) -> Any:
    return f", {row.way}" if row.way else ""


def _require_sold_and_kept(stay: Consignment) -> None:
    if stay.state not in {State.SOLD, State.SETTLED} or stay.released_on is not None:
        raise Refused(
            "not_releasable", f"{stay.stock_number} is {stay.get_state_display()}: it cannot be released now.",
            field="state", got=stay.state, mend="Sold and withdrawn vehicles are released, once.",
        )  # fmt: skip
