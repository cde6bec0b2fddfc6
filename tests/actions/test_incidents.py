"""Incidents: logged, told step by step, closed by the owner, with pictures that are nobody else's."""

import uuid
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest

from inventory.actions import incidents, recording
from inventory.errors import NotAllowed, NotFound, Refused
from inventory.models import Incident, LogEntry, Photo
from inventory.queries.floor_today import floor_today
from inventory.queries.incidents import incidents_of, open_incidents
from inventory.rules.roles import Actor
from inventory.rules.wording import log_sentence
from inventory.uploads import clean_picture
from tests import build
from tests.test_uploads import picture

pytestmark = pytest.mark.django_db


def test_incident_is_open_and_says_what_is_missing_until_the_owner_closes_it(
    sales: Actor, owner: Actor, at: datetime
) -> None:
    stay = build.consignment(at=at)
    key = uuid.uuid4()
    for _ in range(2):
        row = incidents.log_incident(stay.pk, kind="theft", what=" hub caps ", client_key=key, by=sales, at=at)
    assert Incident.objects.get().what == "hub caps"
    (line,) = floor_today(by=sales, at=at)
    missing = "the insurer is not told, the consignor is not told, the police are not told"
    assert line.text == f"Open incident of 2026-03-16, theft: {missing}"
    for kind in ("police_told", "insurer_told", "consignor_told"):
        incidents.add_step(row.pk, kind=kind, by=sales, at=at)
    assert open_incidents()[0].missing == []
    with pytest.raises(NotAllowed):
        incidents.add_step(row.pk, kind="closed", text="paid", by=sales, at=at)
    with pytest.raises(Refused, match="says something"):
        incidents.add_step(row.pk, kind="closed", by=owner, at=at)
    incidents.add_step(row.pk, kind="closed", text="the insurer paid", by=owner, at=at)
    assert not open_incidents()
    incidents.add_step(row.pk, kind="opened_again", text="they want it back", by=sales, at=at)
    assert len(open_incidents()) == 1


def test_log_tells_the_kind_and_the_day_and_no_name(sales: Actor, at: datetime) -> None:
    stay = build.consignment(at=at)
    row = incidents.log_incident(stay.pk, kind="injury", what="Bo fell", by=sales, at=at)
    incidents.add_step(row.pk, kind="note", text="Bo is well", by=sales, at=at)
    entries = LogEntry.objects.filter(action__startswith="incident.").order_by("pk")
    assert [log_sentence(one.action, data=one.data) for one in entries] == [
        "logged an incident of 2026-03-16: injury", "about the incident of 2026-03-16: note",
    ]  # fmt: skip
    assert "Bo" not in str([one.data for one in entries])


def test_pictures_are_never_public_and_belong_to_one_incident(
    sales: Actor, at: datetime, settings: Any, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    stay, shot = build.consignment(at=at), clean_picture(picture(), name="left.jpg")
    row = incidents.log_incident(stay.pk, kind="damage", what="dent", pictures=[shot], by=sales, at=at)
    incidents.add_pictures(row.pk, pictures=[shot], by=sales, at=at)
    assert [photo.public for photo in Photo.objects.all()] == [False]
    assert len(incidents_of(stay)[0].photos) == 1
    other = incidents.log_incident(stay.pk, kind="damage", what="another", by=sales, at=at)
    with pytest.raises(Refused, match="belongs to the incident of 2026-03-16"):
        incidents.add_pictures(other.pk, pictures=[shot], by=sales, at=at)
    shown = clean_picture(picture(size=(60, 40)), name="left.jpg")
    recording.add_photo(stay.pk, picture=shown, by=build.BUILDER, at=at)
    with pytest.raises(Refused, match="shown to consignor and buyers"):
        incidents.add_pictures(row.pk, pictures=[shown], by=sales, at=at)


def test_date_after_today_and_step_before_the_incident_are_refused(sales: Actor, at: datetime) -> None:
    stay = build.consignment(at=at)
    with pytest.raises(Refused, match="2026-03-17 is in the future"):
        incidents.log_incident(stay.pk, kind="damage", what="dent", on=date(2026, 3, 17), by=sales, at=at)
    row = incidents.log_incident(stay.pk, kind="damage", what="dent", by=sales, at=at)
    with pytest.raises(Refused, match="2026-03-15 is before the incident"):
        incidents.add_step(row.pk, kind="insurer_told", on=date(2026, 3, 15), by=sales, at=at)


def test_step_sent_twice_is_one_and_one_of_no_incident_is_told(sales: Actor, at: datetime) -> None:
    row = incidents.log_incident(build.consignment(at=at).pk, kind="damage", what="dent", by=sales, at=at)
    key = uuid.uuid4()
    for _ in range(2):
        incidents.add_step(row.pk, kind="insurer_told", client_key=key, by=sales, at=at)
    assert row.steps.count() == 1
    with pytest.raises(NotFound, match="no such incident"):
        incidents.add_step(row.pk + 1, kind="note", text="x", by=sales, at=at)
