"""An incident is logged, what was done about it is told step by step, and pictures of it are kept."""

import uuid
from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.recording import keep_photo
from inventory.actions.writing import add, again, locked, trade_day
from inventory.errors import NotFound, Refused
from inventory.models import Consignment, Incident, IncidentPhoto, IncidentStep
from inventory.queries.media import photos_alike
from inventory.rules import incidents as rules
from inventory.rules.floor_words import IncidentStepKind
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.uploads import CleanPicture


@transaction.atomic
def log_incident(
    consignment_id: int, *, kind: str, what: str, where: str = "", on: date | None = None,
    pictures: Sequence[CleanPicture] = (), client_key: uuid.UUID | None = None, by: Actor, at: datetime,
) -> Incident:  # fmt: skip
    """What happened and when. It is open until the owner closes it; the log names neither people nor details."""
    require(by, Act.LOG_INCIDENT)
    stay = locked(consignment_id)
    if (known := again(Incident, client_key=client_key)) is not None:
        return known
    today = trade_day(at)
    row = add(
        Incident(
            consignment=stay, kind=kind, what=what.strip(), where=where.strip(), client_key=client_key,
            on=check_not_future(on or today, today=today, field="on"), by=by.name, at=at,
        )
    )  # fmt: skip
    logbook.record("incident.logged", row, by=by, at=at, consignment=stay, on=row.on, kind=row.get_kind_display())
    _keep(pictures, of=row, stay=stay, by=by, at=at)
    return row


@transaction.atomic
def add_pictures(incident_id: int, *, pictures: Sequence[CleanPicture], by: Actor, at: datetime) -> Incident:
    require(by, Act.LOG_INCIDENT)
    row, stay = _locked_incident(incident_id)
    _keep(pictures, of=row, stay=stay, by=by, at=at)
    return row


def _keep(pictures: Sequence[CleanPicture], *, of: Incident, stay: Consignment, by: Actor, at: datetime) -> None:
    """For staff only. All are looked at before the first is kept: files that were written stay written."""
    new = [picture for picture in pictures if not _is_kept(picture, of=of, stay=stay)]
    for picture in new:
        photo = keep_photo(stay, picture=picture, caption=f"Incident of {of.on}", public=False, by=by, at=at)
        if not IncidentPhoto.objects.filter(photo=photo).exists():  # the same picture twice in one go
            add(IncidentPhoto(incident=of, photo=photo, at=at))
    if new:
        logbook.record("incident.photo", of, by=by, at=at, consignment=stay, count=len(new), on=of.on)


def _is_kept(picture: CleanPicture, *, of: Incident, stay: Consignment) -> bool:
    """Whether this incident has it already; refused where it is another's, or shown to others already."""
    photo = next((row for row in photos_alike(stay, picture=picture) if not row.is_hidden), None)
    if photo is None:
        return False
    held = IncidentPhoto.objects.filter(photo=photo).select_related("incident").first()
    if held is not None and held.incident_id != of.pk:
        raise Refused(
            "of_another", f"This picture belongs to the incident of {held.incident.on}.", field="file",
            mend="Leave it there, or take another one.",
        )  # fmt: skip
    if photo.public:
        raise Refused(
            "public_already", "This picture is in the file already, shown to consignor and buyers.", field="file",
            mend="Hide it there and send it again, or take another one.",
        )  # fmt: skip
    return held is not None


@transaction.atomic
def add_step(
    incident_id: int, *, kind: str, text: str = "", on: date | None = None, client_key: uuid.UUID | None = None,
    by: Actor, at: datetime,
) -> IncidentStep:  # fmt: skip
    """What was done about it. The owner alone closes it, with the reason; anybody may open it again."""
    require(by, Act.CLOSE_INCIDENT if kind == IncidentStepKind.CLOSED else Act.LOG_INCIDENT)
    row, stay = _locked_incident(incident_id)
    if (known := again(IncidentStep, client_key=client_key)) is not None:
        return known
    today, said = trade_day(at), text.strip()
    before = list(row.steps.order_by("pk").values_list("kind", flat=True))
    rules.check_step(kind, text=said, before=before)
    day = check_not_future(on or today, today=today, field="on")
    if day < row.on:
        raise Refused(
            "before_incident", f"{day} is before the incident of {row.on}.", field="on", got=day,
            mend=f"Give a date from {row.on} on.",
        )  # fmt: skip
    step = add(IncidentStep(incident=row, kind=kind, text=said, client_key=client_key, on=day, by=by.name, at=at))
    logbook.record("incident.step", step, by=by, at=at, consignment=stay, on=row.on, step=step.get_kind_display())
    return step


def _locked_incident(incident_id: int) -> tuple[Incident, Consignment]:
    """The incident and its stay; the lock of the stay makes one step follow the other."""
    row = Incident.objects.filter(pk=incident_id).first()
    if row is None:
        raise NotFound("not_found", "There is no such incident.", got=incident_id)
    return row, locked(row.consignment_id)
