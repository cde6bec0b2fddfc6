"""Numbers that do not agree, resolved by the owner; and every question a number raises, beside its field."""

from datetime import datetime
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from inventory.actions import asking, recording
from inventory.errors import NotAllowed, Refused, TooLate
from inventory.models import Consignment, IdentityNumber, IdentityResolution, LogEntry, Vehicle
from inventory.queries import facts
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build
from tests.pages.browse import sign_in, text_of, url
from tests.pages.test_lot import arrival
from tests.pages.test_vehicle_file import part_of

pytestmark = pytest.mark.django_db
OTHER = "8A17J100007"
QUESTION = f"The identity numbers do not agree: 8A17J100001, {OTHER}."


@pytest.fixture
def now() -> datetime:
    return timezone.now()


@pytest.fixture
def stay(now: datetime) -> Consignment:
    """Ready to be listed but for a title with another number."""
    row = build.consignment(State.INSPECTED, at=now)
    build.make_listable(row, at=now, ask=48500)  # type: ignore[arg-type]
    number(row, OTHER, at=now)
    return row


def number(stay: Consignment, value: str, *, at: datetime, kind: str = "title", basis: str = "documented") -> None:
    recording.add_identity_number(stay.pk, kind=kind, value=value, basis=basis, by=build.BUILDER, at=at)


def resolve(stay: Consignment, *, by: Actor, at: datetime, question: str = QUESTION) -> IdentityResolution:
    reason = "one digit of the title is a typing slip; state police inspected the stamp"
    return recording.resolve_identity(stay.pk, question=question, reason=reason, by=by, at=at)


# the action


def test_disagreement_stops_listing_until_the_owner_resolves_it(owner: Actor, stay: Consignment, now: datetime) -> None:
    with pytest.raises(Refused, match=r"do not agree.*the owner resolves it"):
        asking.list_vehicle(stay.pk, by=owner, at=now)
    row = resolve(stay, by=owner, at=now)
    assert (row.question, row.by) == (QUESTION, "Sam Owner")
    assert facts.identity_question(stay) == ""
    asking.list_vehicle(stay.pk, by=owner, at=now)
    stay.refresh_from_db()
    assert stay.state == State.LISTED


@pytest.mark.parametrize("value", ["8A17J100001", OTHER, "8A17J555555"])
def test_one_more_number_opens_the_question_again(owner: Actor, stay: Consignment, now: datetime, value: str) -> None:
    resolve(stay, by=owner, at=now)
    number(stay, value, at=now, kind="frame_stamp", basis="seen")
    assert "do not agree" in facts.identity_question(stay)
    with pytest.raises(Refused, match="do not agree"):
        asking.list_vehicle(stay.pk, by=owner, at=now)


def test_another_serial_opens_the_question_again(owner: Actor, stay: Consignment, now: datetime) -> None:
    resolve(stay, by=owner, at=now)
    Vehicle.objects.filter(pk=stay.vehicle_id).update(serial="8A17J100009")
    stay.vehicle.refresh_from_db()
    assert "8A17J100009" in facts.identity_question(stay)


def test_engine_stamp_opens_it_too_as_it_is_one_more_number(owner: Actor, stay: Consignment, now: datetime) -> None:
    resolve(stay, by=owner, at=now)
    number(stay, "K77", at=now, kind="engine_stamp", basis="seen")
    assert facts.identity_question(stay) == QUESTION
    resolve(stay, by=owner, at=now)
    assert facts.identity_question(stay) == ""


def test_resolution_of_what_is_not_open_or_has_changed_is_refused(
    owner: Actor, stay: Consignment, now: datetime
) -> None:
    with pytest.raises(TooLate, match="another one by now"):
        resolve(stay, by=owner, at=now, question="The identity numbers do not agree: x, y.")
    resolve(stay, by=owner, at=now)
    with pytest.raises(Refused, match="No question about the identity is open"):
        resolve(stay, by=owner, at=now)
    assert IdentityResolution.objects.count() == 1


def test_missing_number_is_recorded_not_resolved(owner: Actor, now: datetime) -> None:
    bare = build.consignment(at=now)
    question = facts.identity_question(bare)
    with pytest.raises(Refused, match=r"has not been recorded\. Record the missing number"):
        resolve(bare, by=owner, at=now, question=question)


def test_only_the_owner_resolves(intake: Actor, sales: Actor, stay: Consignment, now: datetime) -> None:
    for actor in (intake, sales):
        with pytest.raises(NotAllowed):
            resolve(stay, by=actor, at=now)


# the page


def test_owner_resolves_in_the_file_and_the_log_says_so(client: Client, owner: Actor, stay: Consignment) -> None:
    page = text_of(sign_in(client, owner).get(url(stay, "vehicle_file")))
    assert f"Open: {QUESTION} Listing waits for it. The owner can resolve it" in page
    given = client.get(url(stay, "vehicle_file")).context["forms"]["resolution"]
    sent = {"question": given["question"].value(), "key": str(given["key"].value()), "reason": "a typing slip"}
    for _ in range(2):  # sent twice it is one row
        assert client.post(url(stay, "resolve_identity"), sent)["Location"] == url(stay, "vehicle_file")
    page = text_of(client.get(url(stay, "vehicle_file")))
    assert "Resolved by Sam Owner" in page
    assert f"resolved a question about the identity: {QUESTION}; reason: a typing slip" in page
    assert "Open: The identity" not in page
    assert IdentityResolution.objects.count() == 1


def test_resolution_without_a_reason_or_of_another_question_is_told(
    client: Client, owner: Actor, stay: Consignment
) -> None:
    sign_in(client, owner)
    empty = client.post(url(stay, "resolve_identity"), {"question": QUESTION})
    assert "This field is required." in text_of(empty)
    changed = client.post(url(stay, "resolve_identity"), {"question": "Another.", "reason": "a slip"})
    assert "The question is another one by now" in text_of(changed)
    assert not IdentityResolution.objects.exists()


def test_intake_sees_the_question_and_no_form(client: Client, intake: Actor, stay: Consignment) -> None:
    page = text_of(sign_in(client, intake).get(url(stay, "vehicle_file")))
    assert QUESTION in page
    assert url(stay, "resolve_identity") not in page
    assert client.post(url(stay, "resolve_identity"), {"question": QUESTION, "reason": "x"}).status_code == 403


def test_number_is_recorded_with_the_place_where_it_was_read(client: Client, intake: Actor, stay: Consignment) -> None:
    given = {"kind": "body_stamp", "value": "8a17j-100001", "basis": "seen", "place": "cowl, under the hood seal"}
    sign_in(client, intake).post(url(stay, "add_identity_number"), given)
    row = IdentityNumber.objects.order_by("-pk")[0]
    assert (row.kind, row.value, row.place) == ("body_stamp", "8A17J100001", "cowl, under the hood seal")
    assert "cowl, under the hood seal" in text_of(client.get(url(stay, "vehicle_file")))


# numbers of all eras: computed by hand from the weights of 49 CFR 565.15 (c); the first one is the regulation's own

GOOD = [
    ("1G4AH59H45G118341", 2005), ("1M8GDM9AXKP042788", 1989), ("1ZZFB3EL5BA100001", 2011), ("1ZZFBA7L3BA100001", 1981),
    ("9ZZCK12D79X004321", 2009), ("8A17J104221", 1968), ("A-1", 1908), ("1g4ah59h4-5g118341", 2005),
]  # fmt: skip
WRONG = [
    ("11111111111111111", 2001, "looks like a stand-in"),
    ("1ZZCA1EX61M654321", 2001, "says model year 2031; the file says 2001"),
    ("1ZZFB3EL5BA100001", 1981, "says model year 2011; the file says 1981"),
    ("1G4AH59H45G113841", 2005, "is 4; the others make it X"),
    ("1G4AH95H45G118341", 2005, "is 4; the others make it 8"),
    ("1G4AH59H45G118341", 1968, "of 1981 and later; the file says 1968"),
    ("1G4AH59H45G11834I", 2005, "holds a letter no VIN holds"),
    ("1G4AH59H45G11834*", 2005, "which stands in no VIN"),
    ("8A17J104221", 1995, "has 11 characters; a vehicle of model year 1995 has 17"),
    ("1ZZFBA7L3UA100001", 1985, "is no year code"),
]


@pytest.mark.parametrize(("vin", "year"), GOOD)
def test_right_number_is_logged_without_a_question(client: Client, intake: Actor, vin: str, year: int) -> None:
    response = sign_in(client, intake).post(reverse("log_vehicle"), arrival(vin=vin, year=str(year)))
    assert response.status_code == 302
    assert Vehicle.objects.get().serial_reason == ""


@pytest.mark.parametrize(("vin", "year", "asked"), WRONG)
def test_odd_number_asks_beside_the_field_and_passes_with_a_reason(
    client: Client, intake: Actor, vin: str, year: int, asked: str
) -> None:
    sign_in(client, intake)
    given = arrival(vin=vin, year=str(year))
    response = client.post(reverse("log_vehicle"), given)
    assert asked in " ".join(response.context["form"].errors["vin"])
    assert "Why the number is right as it stands" in text_of(response)
    assert not Vehicle.objects.exists()
    assert client.post(reverse("log_vehicle"), {**given, "vin_reason": "read twice"}).status_code == 302
    assert Vehicle.objects.get().serial_reason == "read twice"
    assert asked in LogEntry.objects.get(action="vehicle.serial_overridden").data["finding"]


@pytest.mark.parametrize(("vin", "year", "asked"), WRONG)
def test_odd_number_asks_on_correction_too(
    client: Client, intake: Actor, stay: Consignment, vin: str, year: int, asked: str
) -> None:
    sign_in(client, intake)
    given = part_of(client, stay, "vehicle", vin=vin, year=str(year))
    response = client.post(url(stay, "correct_vehicle"), given)
    assert asked in " ".join(response.context["forms"]["vehicle"].errors["vin"])
    assert client.post(url(stay, "correct_vehicle"), {**given, "vin_reason": "read twice"}).status_code == 302
    stay.vehicle.refresh_from_db()
    assert (stay.vehicle.year, stay.vehicle.serial_reason) == (year, "read twice")


def test_two_questions_of_one_number_are_both_told(client: Client, intake: Actor) -> None:
    response = sign_in(client, intake).post(reverse("log_vehicle"), arrival(vin="1G4AH59H55G118341", year="2006"))
    told = " ".join(response.context["form"].errors["vin"])
    assert "is 5; the others make it 4" in told
    assert "says model year 2005; the file says 2006" in told


def test_swap_the_arithmetic_cannot_see_passes(client: Client, intake: Actor) -> None:
    """A read as J weighs the same: the check digit cannot tell them apart, hence the photo of the plate."""
    response = sign_in(client, intake).post(reverse("log_vehicle"), arrival(vin="1G4JH59H45G118341", year="2005"))
    assert response.status_code == 302


# years and build class


def test_year_built_stands_beside_the_year_of_the_title(client: Client, intake: Actor, stay: Consignment) -> None:
    page = text_of(sign_in(client, intake).get(url(stay, "vehicle_file")))
    assert "titled as 1968; year built not known" in page
    client.post(url(stay, "correct_vehicle"), part_of(client, stay, "vehicle", year_built="1967"))
    assert "titled as 1968; built 1967" in text_of(client.get(url(stay, "vehicle_file")))
    client.post(url(stay, "correct_vehicle"), part_of(client, stay, "vehicle", year_built=""))
    stay.vehicle.refresh_from_db()
    assert stay.vehicle.year_built is None


@pytest.mark.parametrize(("year", "kept"), [("1967", 1967), ("", None)])
def test_year_built_is_asked_on_arrival_and_may_be_unknown(
    client: Client, intake: Actor, year: str, kept: int | None
) -> None:
    sign_in(client, intake).post(reverse("log_vehicle"), arrival(year_built=year))
    assert Vehicle.objects.get().year_built == kept


def test_impossible_year_built_is_told_on_its_field(client: Client, intake: Actor, stay: Consignment) -> None:
    response = sign_in(client, intake).post(reverse("log_vehicle"), arrival(year_built="1066"))
    assert "A year built of 1066 is not possible." in " ".join(response.context["form"].errors["year_built"])
    given = part_of(client, stay, "vehicle", year_built="2999")
    response = client.post(url(stay, "correct_vehicle"), given)
    assert "A year built of 2999" in " ".join(response.context["forms"]["vehicle"].errors["year_built"])


def test_unknown_build_class_is_an_open_question_and_stops_nothing(client: Client, intake: Actor, now: Any) -> None:
    unknown = build.consignment(State.INSPECTED, at=now, build_class="")
    page = text_of(sign_in(client, intake).get(url(unknown, "vehicle_file")))
    assert "Open: survivor, restored, modified, or replica?" in page
    known = build.consignment(at=now)
    assert "Open: survivor" not in text_of(client.get(url(known, "vehicle_file")))
