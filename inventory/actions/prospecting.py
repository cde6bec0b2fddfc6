"""Vehicles that may come are kept as told, priced, offered terms, declined or booked. Nobody has seen them."""

import uuid
from contextlib import ExitStack
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.core.files.base import ContentFile
from django.db import transaction

from inventory.actions import agreeing, logbook, recording, sharing
from inventory.actions.agreeing import NewTerms
from inventory.actions.contacting import consignor_like, contact_for
from inventory.actions.intake import TOLD_BEFORE, Arrival, log_stay
from inventory.actions.writing import add, again, change, keep_file, refuse_stale, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import Consignment, Consignor, Contact, Modification, Prospect, ProspectPhoto, User
from inventory.queries import facts
from inventory.queries.vehicles_to_come import proposed_columns
from inventory.rules import identity, money
from inventory.rules import prospecting as rules
from inventory.rules.floor_words import Declined, ProspectStage
from inventory.rules.roles import Act, Actor, ActorKind, require
from inventory.rules.terms_words import plan_in_words
from inventory.rules.words import Basis, Era, IdentityKind, OdometerStatus
from inventory.uploads import CleanPicture


@dataclass(frozen=True, kw_only=True)
class ToldOf:
    """What an owner tells. Empty means not told. Points are from 0 to 100; `cut` is of `kinds`."""

    year: int
    make: str
    model: str
    trim: str = ""
    body: str = ""
    engine: str = ""
    transmission: str = ""
    color: str = ""
    build_class: str = ""
    title_brand: str = ""
    serial: str = ""
    mileage: int | None = None
    odometer_status: str = OdometerStatus.NOT_STATED
    condition_low: Decimal | None = None
    condition_high: Decimal | None = None
    originality_low: Decimal | None = None
    originality_high: Decimal | None = None
    kinds: tuple[str, ...] = ()
    cut: tuple[str, ...] = ()
    unchanged: bool = False
    story: str = ""
    hoped_for: Decimal | None = None
    way: str = ""
    brought_in_by: int | None = None
    follow_up_on: date | None = None


@dataclass(frozen=True, kw_only=True)
class Person:
    """Whose it is: a known consignor, or somebody by name."""

    consignor_id: int | None = None
    name: str = ""
    phone: str = ""
    email: str = ""


@transaction.atomic
def log_prospect(
    told: ToldOf, *, person: Person, client_key: uuid.UUID | None = None, by: Actor, at: datetime
) -> Prospect:
    """Keep what an owner tells of a vehicle. Sent twice, it is one prospect."""
    require(by, Act.KEEP_PROSPECTS)
    if (known := again(Prospect, client_key=client_key)) is not None:
        return known
    columns = _columns(told, at=at)
    row = add(Prospect(**columns, **_whose(person, by=by, at=at), client_key=client_key, by=by.name, at=at))
    logbook.record("prospect.logged", row, by=by, at=at, vehicle=str(row), name=str(row.consignor or row.contact))
    return row


def _whose(person: Person, *, by: Actor, at: datetime) -> dict[str, Any]:
    if person.consignor_id is not None:
        known = Consignor.objects.filter(pk=person.consignor_id).first()
        if known is None:
            raise NotFound("not_found", "There is no such consignor.", field="consignor_id", got=person.consignor_id)
        return {"consignor": known, "contact": None}
    contact = contact_for(name=person.name, phone=person.phone, email=person.email, by=by, at=at)
    if contact is None:
        raise Refused("nobody", "It is not said whose vehicle it is.", field="name", mend="Give the owner's name.")
    return {"consignor": contact.consignor, "contact": contact}


def _columns(told: ToldOf, *, at: datetime) -> dict[str, Any]:
    identity.check_year(told.year, today=trade_day(at))
    said = {name: getattr(told, name) for name in _PLAIN}
    for figure in ("condition", "originality"):
        span = rules.told_span(getattr(told, f"{figure}_low"), high=getattr(told, f"{figure}_high"), field=figure)
        said |= {f"{figure}_low": span.low if span else None, f"{figure}_high": span.high if span else None}
    if told.hoped_for is not None:
        money.check_amount(told.hoped_for, field="hoped_for", minimum=money.CENT)
    return {
        **said,
        "serial": told.serial.strip(),
        "story": told.story.strip(),
        "brought_in_by": _staff(told.brought_in_by),
        "modifications": rules.told_modifications(told.kinds, cut=told.cut, none_made=told.unchanged),
    }


_PLAIN = (
    "year", "make", "model", "trim", "body", "engine", "transmission", "color", "build_class", "title_brand", "mileage",
    "odometer_status", "hoped_for", "way", "follow_up_on",
)  # fmt: skip


def _staff(user_id: int | None) -> User | None:
    if user_id is None:
        return None
    row = User.objects.filter(pk=user_id).first()
    if row is None:
        raise NotFound("not_found", "There is no such member of staff.", field="brought_in_by", got=user_id)
    return row


@transaction.atomic
def change_prospect(prospect_id: int, *, told: ToldOf, version: int | None = None, by: Actor, at: datetime) -> Prospect:
    """The owner tells more, or otherwise."""
    require(by, Act.KEEP_PROSPECTS)
    row = _open(prospect_id, version=version)
    columns = _columns(told, at=at)
    changed = {name: value for name, value in columns.items() if getattr(row, name) != value}
    if not changed:
        return row
    change(row, **changed)
    logbook.record("prospect.changed", row, by=by, at=at, fields=_named(row, names=changed))
    return row


def _named(row: Prospect, *, names: dict[str, Any]) -> str:
    labels = [str(row._meta.get_field(name).verbose_name) for name in names]  # type: ignore[union-attr]
    return ", ".join(sorted(labels))


@transaction.atomic
def follow_up(
    prospect_id: int, *, follow_up_on: date | None, version: int | None = None, by: Actor, at: datetime
) -> Prospect:
    """The day on which somebody speaks with the owner again; none takes it off the list of today."""
    require(by, Act.KEEP_PROSPECTS)
    row = change(_open(prospect_id, version=version), follow_up_on=follow_up_on)
    logbook.record("prospect.changed", row, by=by, at=at, fields=f"follow up: {follow_up_on or 'no day'}")
    return row


@transaction.atomic
def add_prospect_photo(
    prospect_id: int, *, picture: CleanPicture, caption: str = "", by: Actor, at: datetime
) -> ProspectPhoto:
    """Keep one picture that the owner sent. The same picture is one photo."""
    require(by, Act.KEEP_PROSPECTS)
    prospect = _open(prospect_id)
    known = prospect.photos.filter(digest=picture.digest).first()
    if known is not None:
        return known
    if (held := prospect.photos.count()) >= rules.MOST_PHOTOS:
        raise Refused(
            "too_many_photos", f"{held} photos are kept, and {rules.MOST_PHOTOS} are the most.", field="file", got=held,
            mend="Take further ones when it is here.",
        )  # fmt: skip
    row = ProspectPhoto(
        prospect=prospect, digest=picture.digest, caption=rules.check_caption(caption),
        width=picture.width, height=picture.height, by=by.name, at=at,
    )  # fmt: skip
    with ExitStack() as undo:  # the files of a row that is refused are taken away again
        keep_file(row.file, name=f"{row.code}.{picture.suffix}", content=ContentFile(picture.content), undo=undo)
        if picture.thumbnail:
            keep_file(row.thumbnail, name=f"{row.code}-small.jpg", content=ContentFile(picture.thumbnail), undo=undo)
        add(row)
        undo.pop_all()
    logbook.record("prospect.photo", prospect, by=by, at=at, caption=row.caption or "without caption")
    return row


@transaction.atomic
def propose_terms(
    prospect_id: int, *, terms: NewTerms, version: int | None = None, by: Actor, at: datetime
) -> Prospect:
    """Keep the terms that the lot would agree to; they take the place of those proposed before."""
    require(by, Act.AGREE_TERMS)
    row = _open(prospect_id, version=version)
    proposed, columns = agreeing.proposal_of(terms, by=by, at=at)
    change(row, terms={"columns": columns, "by": by.name, "at": at.isoformat()}, stage=ProspectStage.OFFERED)
    logbook.record("prospect.offered", row, by=by, at=at, plan=plan_in_words(facts.plan_of(proposed)))
    return row


@transaction.atomic
def decline(
    prospect_id: int, *, declined: str, because: str, version: int | None = None, by: Actor, at: datetime
) -> Prospect:
    """It will not come. What was told stays, and it can be opened again."""
    require(by, Act.KEEP_PROSPECTS)
    row = _open(prospect_id, version=version)
    change(
        row, stage=ProspectStage.DECLINED, declined=declined, declined_because=because.strip(),
        ended_on=trade_day(at), follow_up_on=None,
    )  # fmt: skip
    logbook.record("prospect.declined", row, by=by, at=at, who=Declined(declined).label, reason=row.declined_because)
    return row


@transaction.atomic
def open_again(prospect_id: int, *, version: int | None = None, by: Actor, at: datetime) -> Prospect:
    require(by, Act.KEEP_PROSPECTS)
    row = _locked(prospect_id, version=version)
    if row.stage != ProspectStage.DECLINED:
        raise Refused(
            "not_declined", f"{row} is {row.get_stage_display()}, not declined.", got=row.stage,
            mend="Look again: there is nothing to open.",
        )  # fmt: skip
    was = row.declined_because
    stage = ProspectStage.OFFERED if row.terms else ProspectStage.OPEN
    change(row, stage=stage, declined="", declined_because="", ended_on=None)
    logbook.record("prospect.opened", row, by=by, at=at, because=f"; it had been declined: {was}")
    return row


@dataclass(frozen=True)
class Booked:
    """The new stay, and whether its consignor was known before."""

    stay: Consignment
    was_known: bool


@transaction.atomic
def book(prospect_id: int, *, vin_reason: str = "", version: int | None = None, by: Actor, at: datetime) -> Booked:
    """Make consignor, vehicle and a booked stay of what is told; nothing is typed again, and nothing told is graded."""
    require(by, Act.KEEP_PROSPECTS)
    row = _open(prospect_id, version=version)
    if row.serial:
        found = identity.assess(row.serial, year=row.year)
        identity.require_answers(found, reason=vin_reason, field="vin_reason")
    known = _known_consignor(row)
    stay = log_stay(_arrival(row, known=known, vin_reason=vin_reason), by=by, at=at)
    _bring_modifications(row, stay=stay, by=by, at=at)
    _bring_photos(row, stay=stay, by=by, at=at)
    if row.terms:
        agreeing.append_proposed(stay, columns=proposed_columns(row), said_by=row.terms["by"], by=by, at=at)
    if row.brought_in_by is not None:
        sharing.share_in_booking(stay, user=row.brought_in_by, by=by, at=at)
    contact = _living(row.contact) if row.contact else None
    if contact is not None and contact.consignor_id is None:
        change(contact, consignor=stay.consignor)
    change(
        row, stage=ProspectStage.BOOKED, consignment=stay, consignor=stay.consignor, ended_on=trade_day(at),
        follow_up_on=None,
    )  # fmt: skip
    logbook.record(
        "prospect.booked", row, by=by, at=at, consignment=stay, stock_number=stay.stock_number,
        consignor=stay.consignor.name,
    )  # fmt: skip
    return Booked(stay, known is not None)


def _known_consignor(row: Prospect) -> Consignor | None:
    """The consignor it was logged for, or who has the contact's e-mail or phone; of doubles the one that goes on."""
    contact = _living(row.contact) if row.contact else None
    found = row.consignor or (contact.consignor if contact else None)
    if found is None and contact is not None:
        found = consignor_like(phone=contact.phone, email=contact.email)
    while found is not None and found.merged_into is not None:
        found = found.merged_into
    return found


def _living(contact: Contact) -> Contact:
    while contact.merged_into is not None:
        contact = contact.merged_into
    return contact


def _arrival(row: Prospect, *, known: Consignor | None, vin_reason: str) -> Arrival:
    said = Arrival(
        **{name: getattr(row, name) for name in _VEHICLE}, vin=row.serial, vin_reason=vin_reason,
        vin_read_off=IdentityKind.OTHER, is_told=True, mileage=row.mileage,
        odometer_status=rules.told_odometer(row.odometer_status), booked_only=True,
        note=rules.note_for_the_stay(row.story, odometer_status=row.odometer_status),
    )  # fmt: skip
    if known is not None:
        return replace(said, consignor_id=known.pk)
    contact = _living(row.contact) if row.contact else None
    if contact is None:  # the database holds that one of the two is there
        raise Refused("nobody", "It is not said whose vehicle it is.", mend="Log it again, with its owner.")
    return replace(
        said, consignor_name=contact.name, consignor_email=contact.email, consignor_phone=contact.phone
    )  # fmt: skip


_VEHICLE = (
    "year", "make", "model", "trim", "body", "engine", "transmission", "color", "build_class", "title_brand",
)  # fmt: skip


def _bring_modifications(row: Prospect, *, stay: Consignment, by: Actor, at: datetime) -> None:
    for kind, fitting in row.modifications or ():
        what = f"{rules.modification_words(kind, fitting=fitting)}, {TOLD_BEFORE}"
        made = add(
            Modification(
                vehicle=stay.vehicle, kind=kind, what=what, fitting=fitting, era=Era.NOT_KNOWN, basis=Basis.TOLD,
                by_id=by.id if by.kind == ActorKind.STAFF else None, at=at,
            )
        )  # fmt: skip
        logbook.record("modification.added", made, by=by, at=at, consignment=stay, what=made.what)


def _bring_photos(row: Prospect, *, stay: Consignment, by: Actor, at: datetime) -> None:
    """As photos of the stay that say where they came from; not public until somebody says so."""
    for photo in row.photos.order_by("pk"):
        caption = rules.caption_for_the_stay(photo.caption)
        recording.keep_photo(stay, picture=_as_picture(photo), caption=caption, public=False, by=by, at=at)


def _as_picture(photo: ProspectPhoto) -> CleanPicture:
    """What is kept was cleaned when it came."""
    with photo.file.open("rb") as shown:
        content = shown.read()
    thumbnail = b""
    if photo.thumbnail:
        with photo.thumbnail.open("rb") as small:
            thumbnail = small.read()
    suffix = str(photo.file.name).rsplit(".", 1)[-1]
    return CleanPicture(
        content=content, suffix=suffix, taken_at=None, width=photo.width, height=photo.height, thumbnail=thumbnail
    )


def _open(prospect_id: int, *, version: int | None = None) -> Prospect:
    row = _locked(prospect_id, version=version)
    rules.require_open(row.stage, what=str(row))
    return row


def _locked(prospect_id: int, *, version: int | None = None) -> Prospect:
    rows = Prospect.objects.select_for_update(of=("self",)).select_related("contact", "consignor")
    row = rows.filter(pk=prospect_id).first()
    if row is None:
        raise NotFound("not_found", "There is no such prospect.", got=prospect_id)
    refuse_stale(row, version=version)
    return row
