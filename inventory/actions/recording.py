"""Facts about a vehicle are recorded: numbers, papers, modifications, photos, the stay itself."""

import uuid
from collections.abc import Sequence
from contextlib import ExitStack
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.core.files.base import ContentFile
from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import add, add_all, again, change, keep_file, locked, refuse_stale, trade_day
from inventory.errors import NotFound, Refused, TooLate
from inventory.models import (
    Consignment,
    Consignor,
    IdentityNumber,
    IdentityResolution,
    Lot,
    Modification,
    ModificationComponent,
    Movement,
    Photo,
    TitlePaper,
)
from inventory.queries.identity import identity_of
from inventory.queries.media import bytes_held, bytes_sent, photos_alike
from inventory.queries.places import place_meant
from inventory.rules import identity, titles
from inventory.rules.components import COMPONENT_TITLES
from inventory.rules.media import DAY, NO_SPOT, Spot, check_day, check_room, check_spot
from inventory.rules.places import check_expected_back
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, ActorKind, require
from inventory.rules.words import Era
from inventory.uploads import CleanPicture


@transaction.atomic
def add_identity_number(
    consignment_id: int, *, kind: str, value: str, basis: str, place: str = "", note: str = "", by: Actor, at: datetime
) -> IdentityNumber:
    require(by, Act.RECORD_FACTS)
    stay = locked(consignment_id)
    row = add(
        IdentityNumber(
            vehicle=stay.vehicle, kind=kind, value=identity.normalise(value), basis=basis,
            place=place.strip(), note=note, by=by.name, at=at,
        )
    )  # fmt: skip
    logbook.record(
        "identity.recorded", row, by=by, at=at, consignment=stay,
        kind=row.get_kind_display(), value=row.value,
    )  # fmt: skip
    return row


@transaction.atomic
def resolve_identity(
    consignment_id: int, *, question: str, reason: str, client_key: uuid.UUID | None = None, by: Actor, at: datetime
) -> IdentityResolution:
    """The owner decides a question about numbers that do not agree, for the numbers as they stand now.

    `question` is the one the owner read: if it is another one by now, it is not resolved.
    """
    require(by, Act.RESOLVE_IDENTITY)
    stay = locked(consignment_id)
    if (known := again(IdentityResolution, client_key=client_key)) is not None:
        return known
    standing = identity_of(stay.vehicle)
    if not standing.may_be_resolved or not standing.open:
        raise Refused(
            "nothing_to_resolve",
            standing.open or "No question about the identity is open.",
            field="question",
            got=question,
            mend="Record the missing number." if standing.open else "",
        )
    if question.strip() != standing.open:
        raise TooLate(
            "question_changed", f"The question is another one by now: {standing.open}", field="question",
            got=question, mend="Look at the numbers again, then resolve that one.",
        )  # fmt: skip
    row = add(
        IdentityResolution(
            vehicle=stay.vehicle, question=standing.open, reason=reason.strip(), numbers_digest=standing.digest,
            client_key=client_key, by=by.name, at=at,
        )
    )  # fmt: skip
    logbook.record(
        "identity.resolved", row, by=by, at=at, consignment=stay,
        question=row.question, because=logbook.because(row.reason),
    )  # fmt: skip
    return row


@transaction.atomic
def add_title_paper(
    consignment_id: int, *, kind: str, standing: str, number: str = "", name_on_paper: str = "", more_names: str = "",
    names_joined: str = "", owner_kind: str = "", signer: str = "", signs_by: str = "",
    in_hand_since: date | None = None, place: str = "", seen_on: date | None = None, by: Actor, at: datetime,
) -> TitlePaper:  # fmt: skip
    """Record a paper as it reads: whose names stand on it, who may sign for them, since when it is in hand."""
    require(by, Act.RECORD_FACTS)
    stay = locked(consignment_id)
    names = {
        "more_names": more_names.strip(), "names_joined": names_joined, "signer": signer.strip(), "signs_by": signs_by,
    }  # fmt: skip
    titles.check_names(name=name_on_paper, **names)
    today = trade_day(at)
    if in_hand_since is not None:
        check_not_future(in_hand_since, today=today, field="in_hand_since")
    row = add(
        TitlePaper(
            vehicle=stay.vehicle, kind=kind, standing=standing, number=number, name_on_paper=name_on_paper.strip(),
            owner_kind=owner_kind, in_hand_since=in_hand_since, place=place, **names,
            seen_on=check_not_future(seen_on or today, today=today, field="seen_on"), by=by.name, at=at,
        )
    )  # fmt: skip
    logbook.record(
        "title.recorded", row, by=by, at=at, consignment=stay,
        kind=row.get_kind_display(), number=row.number,
    )  # fmt: skip
    return row


@transaction.atomic
def add_modification(
    consignment_id: int, *, kind: str, what: str, fitting: str, basis: str, workmanship: int | None = None,
    papers: bool = False, where: str = "", material: str = "", era: str = Era.NOT_KNOWN,
    cost_told: Decimal | None = None, components: Sequence[str] = (), client_key: uuid.UUID | None = None,
    by: Actor, at: datetime,
) -> Modification:  # fmt: skip
    """Record a deliberate change, and which components of the ledger it changed."""
    require(by, Act.RECORD_FACTS)
    stay = locked(consignment_id)
    if (known := again(Modification, client_key=client_key)) is not None:
        return known
    unknown = sorted(set(components) - set(COMPONENT_TITLES))
    if unknown:
        raise Refused(
            "no_such_component", f"There is no component {unknown[0]}.", field="components", got=unknown[0],
            mend=f"Use some of {', '.join(COMPONENT_TITLES)}.",
        )  # fmt: skip
    row = add(
        Modification(
            vehicle=stay.vehicle, kind=kind, what=what.strip(), fitting=fitting, workmanship=workmanship,
            papers=papers, where=where.strip(), material=material.strip(), era=era, cost_told=cost_told, basis=basis,
            client_key=client_key, at=at, by_id=by.id if by.kind == ActorKind.STAFF else None,
        )
    )  # fmt: skip
    add_all([ModificationComponent(modification=row, component=code) for code in dict.fromkeys(components)])
    logbook.record("modification.added", row, by=by, at=at, consignment=stay, what=row.what)
    return row


@transaction.atomic
def add_photo(
    consignment_id: int, *, picture: CleanPicture, caption: str = "", public: bool = True, spot: Spot = NO_SPOT,
    client_key: uuid.UUID | None = None, by: Actor, at: datetime,
) -> Photo:  # fmt: skip
    """Keep one picture and its original. The same original is one photo of the stay, unless it was hidden."""
    require(by, Act.RECORD_FACTS)
    check_spot(spot)
    stay = locked(consignment_id)
    return keep_photo(
        stay, picture=picture, caption=caption, public=public, spot=spot, client_key=client_key, by=by, at=at
    )


def keep_photo(
    stay: Consignment, *, picture: CleanPicture, caption: str = "", public: bool, spot: Spot = NO_SPOT,
    client_key: uuid.UUID | None = None, by: Actor, at: datetime,
) -> Photo:  # fmt: skip
    """Keep a picture that whoever calls this was allowed to take, of a stay that is locked."""
    rows = photos_alike(stay, picture=picture)
    if (known := next((row for row in rows if not row.is_hidden), None)) is not None:
        return _placed(known, spot=spot, by=by, at=at)
    original = picture.original
    size = len(original.content) if original else len(picture.content)
    check_room(bytes_held(stay, but_for=client_key), more=size)
    if client_key is None and by.kind == ActorKind.STAFF and by.id is not None:  # else it was asked when announced
        check_day(bytes_sent(by_id=by.id, since=at - DAY), more=size)
    row = Photo(
        consignment=stay, digest=picture.digest, caption=caption.strip(), public=public,
        taken_at=picture.taken_at, width=picture.width, height=picture.height, resent=len(rows),
        station=spot.station, check_code=spot.check_code, shot=spot.shot, client_key=client_key,
        by_id=by.id if by.kind == ActorKind.STAFF else None, at=at,
    )  # fmt: skip
    with ExitStack() as undo:  # the files of a row that is refused are taken away again
        _keep_files(row, picture=picture, undo=undo)
        add(row)
        undo.pop_all()
    logbook.record("photo.added", row, by=by, at=at, consignment=stay, caption=row.caption or "without caption")
    return row


def _keep_files(row: Photo, *, picture: CleanPicture, undo: ExitStack) -> None:
    keep_file(row.file, name=f"{row.code}.{picture.suffix}", content=ContentFile(picture.content), undo=undo)
    if picture.thumbnail:
        keep_file(row.thumbnail, name=f"{row.code}.jpg", content=ContentFile(picture.thumbnail), undo=undo)
    if (original := picture.original) is not None:
        keep_file(row.original, name=f"{row.code}.{original.suffix}", content=ContentFile(original.content), undo=undo)
        row.original_sha256, row.original_bytes = original.sha256, len(original.content)
        row.original_name = original.name[-255:]


def _placed(row: Photo, *, spot: Spot, by: Actor, at: datetime) -> Photo:
    """A photo that belonged nowhere and is sent again as the answer to a station belongs there from now on."""
    if spot.station and not row.station:
        change(row, station=spot.station, check_code=spot.check_code, shot=spot.shot)
        logbook.record("photo.placed", row, by=by, at=at, consignment=row.consignment, station=spot.station)
    return row


@transaction.atomic
def record_place(
    consignment_id: int, *, place: str = "", place_id: int | None = None, keys: str = "",
    not_for_sale: bool | None = None, expected_back_on: date | None = None, note: str = "",
    client_key: uuid.UUID | None = None, by: Actor, at: datetime,
) -> Movement:  # fmt: skip
    """Where vehicle and keys are from now on. While it is not for sale there, its days do not count as exposed.

    The place is one that was set up, by its id or its name, or any other in words. Whether it is for sale there follows
    the place, unless it is said.
    """
    require(by, Act.SEE_LOT)
    stay = locked(consignment_id)
    if (known := again(Movement, client_key=client_key)) is not None:
        return known
    if expected_back_on is not None:
        check_expected_back(expected_back_on, today=trade_day(at))
    stands = place_meant(place.strip(), place_id=place_id)
    closed = bool(stands and stands.not_for_sale) if not_for_sale is None else not_for_sale
    row = add(
        Movement(
            consignment=stay, place=stands.name if stands else place.strip(), at_place=stands, keys=keys.strip(),
            not_for_sale=closed, expected_back_on=expected_back_on, note=note.strip(), client_key=client_key,
            by=by.name, at=at,
        )
    )  # fmt: skip
    logbook.record(
        "movement.recorded", row, by=by, at=at, consignment=stay, place=row.place, keys=row.keys,
        for_sale="; not for sale while it is there" if row.not_for_sale else "",
        back=f"; expected back {expected_back_on}" if expected_back_on else "",
    )  # fmt: skip
    return row


STAY_FACTS = frozenset({"mileage", "odometer_status", "note", "arrived_on"})


@transaction.atomic
def correct_consignment(
    consignment_id: int, *, values: dict[str, Any], by: Actor, at: datetime, version: int | None = None
) -> Consignment:
    """Change facts of the stay that are nobody's history: odometer, note, arrival date."""
    require(by, Act.RECORD_FACTS)
    stay = locked(consignment_id, version=version)
    unknown = sorted(set(values) - STAY_FACTS)
    if unknown:
        raise Refused(
            "not_editable",
            f"{', '.join(unknown)} cannot be changed here.",
            field=unknown[0],
            mend=f"These can: {', '.join(sorted(STAY_FACTS))}.",
        )
    if values.get("arrived_on") is not None:
        check_not_future(values["arrived_on"], today=trade_day(at), field="arrived_on")
    changed = {name: value for name, value in values.items() if getattr(stay, name) != value}
    if changed:
        before = {name: getattr(stay, name) for name in changed}
        change(stay, **changed)
        logbook.record(
            "consignment.corrected", stay, by=by, at=at, fields=", ".join(sorted(changed)), was=before, now=changed
        )
    return stay


@transaction.atomic
def correct_consignor(
    consignor_id: int, *, values: dict[str, str], by: Actor, at: datetime, version: int | None = None
) -> Consignor:
    require(by, Act.LOG_VEHICLE)
    row = Consignor.objects.select_for_update().filter(pk=consignor_id).first()
    if row is None or row.erased_at is not None:
        raise NotFound("not_found", "There is no such consignor.", got=consignor_id)
    refuse_stale(row, version=version)
    changed = {name: value for name, value in values.items() if getattr(row, name) != value}
    if changed:
        change(row, **changed)
        logbook.record("consignor.corrected", row, by=by, at=at, fields=", ".join(sorted(changed)), name=row.name)
    return row


@transaction.atomic
def change_lot(values: dict[str, Any], *, by: Actor, at: datetime) -> Lot:
    """The lot's settings."""
    require(by, Act.MANAGE_STAFF)
    Lot.objects.get_or_create(pk=1)
    row = Lot.objects.select_for_update().get(pk=1)
    changed = {name: value for name, value in values.items() if getattr(row, name) != value}
    if changed:
        change(row, **changed)
        logbook.record("lot.changed", row, by=by, at=at, fields=", ".join(sorted(changed)), now=changed)
    return row
