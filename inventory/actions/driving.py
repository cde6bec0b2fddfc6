"""Test drives: out with whoever might buy it, and back. What was signed and seen is kept, a licence's number never."""

import uuid
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.core.files.base import ContentFile
from django.core.files.storage import Storage
from django.db import transaction
from django.utils import timezone

from inventory.actions import inquiring, logbook
from inventory.actions.writing import add, again, change, keep_file, locked, refuse_stale, trade_day
from inventory.errors import NotFound, Refused, TooLate
from inventory.models import Consignment, Inquiry, Showing, TestDrive
from inventory.queries.facts import terms_of, the_lot
from inventory.queries.flags import drives_stopped
from inventory.rules import drives
from inventory.rules.roles import Act, Actor, require
from inventory.rules.signatures import Signature, check_signature
from inventory.uploads import CleanPicture

# What stops a drive that somebody wanted: kept in the log, unlike a slip of the pen on the form.
_KEPT = frozenset({"drives_stopped", "drives_not_allowed", "licence_expired", "not_for_sale", "out_already", "away"})


@dataclass(frozen=True, kw_only=True)
class NewDrive:
    """Who drives, what was seen of their licence, and how they signed the text with the mark `text_seen`."""

    driver: str
    reach: inquiring.Reach = field(default_factory=inquiring.Reach)
    inquiry_id: int | None = None
    licence_from: str
    licence_valid_until: date | None
    licence_copy: CleanPicture | None = None
    text_seen: str
    signature: Signature = field(default_factory=Signature)
    plate: str = ""
    accompanied_by: str = ""
    odometer_out: int
    client_key: uuid.UUID | None = None


def take_out(consignment_id: int, *, drive: NewDrive, by: Actor, at: datetime) -> TestDrive:
    """Let it out. A drive that must not be is refused, and that somebody tried is kept."""
    try:
        return _take_out(consignment_id, drive=drive, by=by, at=at)
    except Refused as problem:
        if problem.code in _KEPT:
            _keep_refusal(consignment_id, problem=problem, by=by, at=at)
        raise


@transaction.atomic
def _keep_refusal(consignment_id: int, *, problem: Refused, by: Actor, at: datetime) -> None:
    stay = locked(consignment_id)
    logbook.record("test_drive.refused", stay, by=by, at=at, why=problem.message, code=problem.code)


@transaction.atomic
def _take_out(consignment_id: int, *, drive: NewDrive, by: Actor, at: datetime) -> TestDrive:
    require(by, Act.LOG_TEST_DRIVE)
    stay = locked(consignment_id)
    if (known := again(TestDrive, client_key=drive.client_key)) is not None:
        return known
    _refuse_stopped(stay, drive=drive, today=trade_day(at))
    text = drives.drive_text(the_lot().drive_waiver)
    drives.check_text_seen(drive.text_seen, text=text)
    signed, strokes = check_signature(drive.signature, name=drive.driver, field="strokes")
    asked = None if drive.inquiry_id is None else _inquiry(stay, inquiry_id=drive.inquiry_id, at=at)
    contact = inquiring.reached(drive.driver, reach=drive.reach, by=by, at=at)
    row = TestDrive(
        consignment=stay, inquiry=asked, contact=contact or (asked.contact if asked else None),
        driver=drive.driver.strip(), licence_from=drive.licence_from.strip(),
        licence_valid_until=drive.licence_valid_until, waiver=text, signed=signed, strokes=strokes,
        plate=drive.plate.strip(), accompanied_by=drive.accompanied_by.strip(), out_at=at,
        odometer_out=drive.odometer_out, client_key=drive.client_key, by=by.name,
    )  # fmt: skip
    _add_with_copy(row, copy=drive.licence_copy, today=trade_day(at))
    logbook.record("test_drive.out", row, by=by, at=at, consignment=stay, odometer=row.odometer_out)
    _keep_showing(row, by=by, at=at)
    _delete_copies(by=by, at=at)
    return row


def _refuse_stopped(stay: Consignment, *, drive: NewDrive, today: date) -> None:
    """Safety first, then what the consignor agreed to, then whether it is here to be driven, then the licence."""
    found = drives_stopped(stay, today=today)
    drives.check_no_flags([(line.where, line.message, line.section) for line in found])
    inquiring.refuse_not_for_sale(stay, mend="Test drives are for listed vehicles.")
    _refuse_away(stay)
    terms = terms_of(stay)
    drives.check_allowed(terms is None or terms.test_drives_allowed, stock_number=str(stay.stock_number))
    if (out := TestDrive.objects.filter(consignment=stay, back_at__isnull=True).first()) is not None:
        since = timezone.localtime(out.out_at).strftime("%Y-%m-%d %H:%M")
        raise Refused(
            "out_already", f"{stay.stock_number} is out on a test drive since {since}.",
            field="state", mend="Record that it is back first.",
        )  # fmt: skip
    drives.check_licence(drive.licence_from, valid_until=drive.licence_valid_until, today=today)


def _refuse_away(stay: Consignment) -> None:
    """What is in the shop or away is not for sale meanwhile, and is not driven by a buyer."""
    now = stay.movements.order_by("-pk").first()
    if now is not None and now.not_for_sale:
        raise Refused(
            "away", f"{stay.stock_number} is at {now.place}, and not for sale while it is there.", field="state",
            got=now.place, mend="Record its place when it is back.",
        )  # fmt: skip


def _inquiry(stay: Consignment, *, inquiry_id: int, at: datetime) -> Inquiry:
    return inquiring.inquiry_before(stay, inquiry_id=inquiry_id, day=trade_day(at))


def _add_with_copy(row: TestDrive, *, copy: CleanPicture | None, today: date) -> None:
    """Only the pixels are kept, and only where the lot says so."""
    with ExitStack() as undo:
        if copy is not None:
            lot = the_lot()
            drives.check_copy_kept(lot.keep_licence_copies)
            row.copy_kept_until = today + timedelta(days=lot.licence_copy_days)
            name = f"{uuid.uuid4()}.{copy.suffix}"
            keep_file(row.licence_copy, name=name, content=ContentFile(copy.content), undo=undo)
        add(row)
        undo.pop_all()


def _keep_showing(row: TestDrive, *, by: Actor, at: datetime) -> None:
    seen = Showing(
        consignment=row.consignment, inquiry=row.inquiry, contact=row.contact, who=row.driver, note="test drive",
        on=trade_day(at), by=by.name, at=at,
    )  # fmt: skip
    inquiring.keep_showing(seen, by=by, at=at)


@transaction.atomic
def bring_back(
    code: uuid.UUID, *, odometer_back: int, note_back: str = "", version: int | None = None, by: Actor, at: datetime
) -> TestDrive:
    """It is back: what the odometer says then, and how it came back. The mileage of the file stays as it is."""
    require(by, Act.LOG_TEST_DRIVE)
    row = TestDrive.objects.select_for_update(of=("self",)).select_related("consignment").filter(code=code).first()
    if row is None:
        raise NotFound("not_found", "There is no such test drive.", field="code", got=str(code))
    if row.back_at is not None:
        raise TooLate("back_already", f"It is back already, recorded by {row.back_by}.", field="version")
    refuse_stale(row, version=version)
    drives.check_back(odometer_back, out=row.odometer_out)
    change(row, back_at=at, odometer_back=odometer_back, note_back=note_back.strip(), back_by=by.name)
    logbook.record(
        "test_drive.back", row, by=by, at=at, consignment=row.consignment, odometer=odometer_back,
        driven=odometer_back - row.odometer_out,
    )  # fmt: skip
    return row


@transaction.atomic
def clear_licences(*, by: Actor, at: datetime) -> int:
    """Delete the copies of licences whose days are over."""
    require(by, Act.MANAGE_STAFF)
    return _delete_copies(by=by, at=at)


def _delete_copies(*, by: Actor, at: datetime) -> int:
    """The next drive does it too: no copy lives on because nobody ran a command."""
    over = TestDrive.objects.select_for_update(of=("self",)).select_related("consignment").exclude(licence_copy="")
    rows = list(over.filter(copy_kept_until__lt=trade_day(at)).order_by("pk"))
    for row in rows:
        name, storage = str(row.licence_copy.name), row.licence_copy.storage
        change(row, licence_copy="", copy_deleted_at=at)
        logbook.record(
            "test_drive.copy_deleted", row, by=by, at=at, consignment=row.consignment, until=row.copy_kept_until
        )
        _delete_later(storage, name=name)
    return len(rows)


def _delete_later(storage: Storage, *, name: str) -> None:
    transaction.on_commit(lambda: storage.delete(name))
