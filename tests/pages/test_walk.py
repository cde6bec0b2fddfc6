"""The intake walk, station by station, and the component ledger."""

import re
from datetime import datetime
from decimal import Decimal
from itertools import pairwise

import pytest
from django.test import Client
from django.urls import reverse

from inventory.actions import inspecting
from inventory.actions.inspecting import Finding
from inventory.models import CheckResult, ComponentRecord, Consignment, IntakeInspection
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.rules.stations import STATIONS
from tests import build
from tests.pages.browse import sign_in, text_of, url

pytestmark = pytest.mark.django_db


@pytest.fixture
def stay(at: datetime) -> Consignment:
    return build.consignment(at=at)


@pytest.fixture
def walking(client: Client, intake: Actor, stay: Consignment) -> Client:
    """Intake staff, signed in, with the walk of `stay` begun."""
    sign_in(client, intake).post(url(stay, "begin_walk"))
    return client


def grade(client: Client, stay: Consignment, station: str, **given: str) -> object:
    check = f"{station}.overall"
    sent = {f"{check}-{name}": value for name, value in given.items()}
    return client.post(url(stay, "station", station=station), sent)


def latest(code: str) -> CheckResult:
    return CheckResult.objects.filter(check_code=f"{code}.overall").order_by("-pk")[0]


def test_walk_begins_and_lists_the_stations_in_walking_order(walking: Client, stay: Consignment) -> None:
    page = text_of(walking.get(url(stay, "walk")))
    places = [page.index(f"{number}. {station.title}") for number, station in enumerate(STATIONS, 1)]
    assert places == sorted(places)
    assert "0 of 12 stations answered" in page
    assert page.count("not looked at") == len(STATIONS)


def test_beginning_twice_is_one_walk(walking: Client, stay: Consignment) -> None:
    walking.post(url(stay, "begin_walk"))
    assert IntakeInspection.objects.count() == 1


def test_saved_station_leads_to_the_next_and_the_last_to_the_overview(walking: Client, stay: Consignment) -> None:
    for here, after in pairwise(STATIONS):
        response = grade(walking, stay, here.code, answer="3", basis="seen")
        assert getattr(response, "url", "") == url(stay, "station", station=after.code)
    assert getattr(grade(walking, stay, "road_test", answer="4", basis="seen"), "url", "") == url(stay, "walk")
    assert "12 of 12 stations answered" in text_of(walking.get(url(stay, "walk")))


def test_grade_basis_reading_and_note_are_kept(walking: Client, stay: Consignment) -> None:
    grade(walking, stay, "tyres", answer="1", basis="measured", reading="2.5", note="left rear")
    row = latest("tyres")
    assert (row.verdict, row.grade, row.basis, row.note) == ("graded", 1, "measured", "left rear")
    assert (row.reading, row.unit) == (Decimal("2.500"), "32nds of an inch")
    page = walking.get(url(stay, "station", station="tyres")).content.decode()
    assert re.search(r'<input[^>]*-answer" value="1"[^>]* checked', page)
    assert 'value="2.5"' in page


@pytest.mark.parametrize(("typed", "shown"), [("10", "10"), ("0", "0"), ("2.50", "2.5"), ("0.125", "0.125")])
def test_reading_is_shown_as_it_was_typed(walking: Client, stay: Consignment, typed: str, shown: str) -> None:
    grade(walking, stay, "tyres", answer="3", basis="measured", reading=typed)
    assert f"light wear, {shown} 32nds of an inch" in text_of(walking.get(url(stay, "walk")))
    assert f'value="{shown}"' in walking.get(url(stay, "station", station="tyres")).content.decode()


@pytest.mark.parametrize("answer", ["not_seen", "deleted", "not_fitted"])
def test_no_grade_is_an_answer_of_its_own(walking: Client, stay: Consignment, answer: str) -> None:
    grade(walking, stay, "glass", answer=answer, basis="" if answer == "not_seen" else "told")
    row = latest("glass")
    assert (row.verdict, row.grade) == (answer, None)
    assert row.basis == ("not_established" if answer == "not_seen" else "told")


def test_intervals_so_far_match_a_hand_worked_case(walking: Client, stay: Consignment) -> None:
    """Weights add up to 100; two stations graded 3 by sight (75 points), weights 10 and 4, the other 86 not seen.

    Low (10 + 4) × 75 ÷ 100 = 10.5; high 10.5 + 86 = 96.5. Then glass (5) was never fitted: it leaves the
    weighing, and of 95 points low 1050 ÷ 95 = 11.1, high (1050 + 8100) ÷ 95 = 96.3.
    """
    for code in ("cold_start", "paperwork"):
        grade(walking, stay, code, answer="3", basis="seen")
    assert "10.5 to 96.5" in text_of(walking.get(url(stay, "walk")))
    grade(walking, stay, "glass", answer="not_fitted", basis="seen")
    assert "11.1 to 96.3" in text_of(walking.get(url(stay, "walk")))


@pytest.mark.parametrize(
    ("given", "field", "told"),
    [
        ({"basis": "seen"}, "answer", "Choose a grade, or say why there is none."),
        ({"answer": "3"}, "basis", "Say what this rests on."),
        ({"answer": "5", "basis": "seen"}, "answer", "not one of the available choices"),
        ({"answer": "3", "basis": "seen", "reading": "-1"}, "reading", "greater than or equal to 0"),
        ({"answer": "3", "basis": "seen", "reading": "NaN"}, "reading", "Enter a number."),
        ({"answer": "3", "basis": "seen", "reading": "2.00001"}, "reading", "3 decimal places"),
        ({"answer": "not_seen", "reading": "4"}, "reading", "so it was seen"),
    ],
)
def test_bad_answer_is_told_on_its_field_and_writes_nothing(
    walking: Client, stay: Consignment, given: dict[str, str], field: str, told: str
) -> None:
    response = grade(walking, stay, "tyres", note="left rear", **given)
    (form,) = response.context["forms"]  # type: ignore[attr-defined]
    assert told in " ".join(form.errors[field])
    assert "left rear" in text_of(response)
    assert not CheckResult.objects.exists()


def test_hurtful_stations_carry_their_caution(walking: Client, stay: Consignment) -> None:
    assert "set the locks, nobody inside" in text_of(walking.get(url(stay, "station", station="underside")))
    assert "wheels chocked" in text_of(walking.get(url(stay, "station", station="cold_start")))


def test_finish_freezes_the_walk_and_names_what_was_not_answered(walking: Client, stay: Consignment) -> None:
    grade(walking, stay, "cold_start", answer="3", basis="seen")
    assert "counted as not seen: Paperwork and plates, Front" in text_of(walking.get(url(stay, "walk")))
    walking.post(url(stay, "finish_walk"))
    stay.refresh_from_db()
    assert stay.state == State.INSPECTED
    response = grade(walking, stay, "front", answer="2", basis="seen")
    assert "has no open inspection" in text_of(response)
    assert CheckResult.objects.count() == 1
    assert walking.get(url(stay, "station", station="front"))["Location"] == url(stay, "walk")
    assert "Begin a further inspection" in text_of(walking.get(url(stay, "walk")))


def test_walk_without_a_grade_is_not_finished(walking: Client, stay: Consignment) -> None:
    response = walking.post(url(stay, "finish_walk"))
    assert "No station has been graded yet." in text_of(response)
    assert IntakeInspection.objects.get().is_open


def test_vehicle_that_is_not_here_is_not_inspected(client: Client, intake: Actor, at: datetime) -> None:
    booked = build.consignment(State.BOOKED, at=at)
    page = text_of(sign_in(client, intake).get(url(booked, "walk")))
    assert "can be inspected while it is on the lot" in page
    assert "it is not on the lot" in text_of(client.post(url(booked, "begin_walk")))
    assert not IntakeInspection.objects.exists()


def test_unknown_station_is_nothing_here(walking: Client, stay: Consignment) -> None:
    assert walking.get(url(stay, "station", station="boot_lid")).status_code == 404


@pytest.mark.parametrize("name", ["walk", "begin_walk", "finish_walk", "ledger", "station"])
def test_who_may_walk(client: Client, sales: Actor, stay: Consignment, name: str) -> None:
    address = url(stay, name, station="front") if name == "station" else url(stay, name)
    assert client.post(address)["Location"].startswith(reverse("sign_in"))
    assert sign_in(client, sales).post(address).status_code == 403
    assert not IntakeInspection.objects.exists()


# the ledger


def lines(client: Client, stay: Consignment, **changes: str) -> dict[str, str]:
    """What the page itself would send, with some fields changed: `engine-basis` is given as engine__basis."""
    sent: dict[str, str] = {}
    for form in client.get(url(stay, "ledger")).context["forms"]:
        for bound in form:
            value = str(bound.value() or "")
            sent |= {bound.html_name: value, bound.html_initial_name: value}
    return {**sent, **{name.replace("__", "-"): value for name, value in changes.items()}}


def test_only_changed_lines_of_the_ledger_are_written(walking: Client, stay: Consignment) -> None:
    first = {"engine__standing": "original", "engine__basis": "seen", "engine__as_found": "stamp 77-4412"}
    walking.post(url(stay, "ledger"), lines(walking, stay, **first))
    second = {"paint__standing": "reproduction", "paint__basis": "told"}
    walking.post(url(stay, "ledger"), lines(walking, stay, **second))
    assert list(ComponentRecord.objects.order_by("pk").values_list("component", flat=True)) == ["engine", "paint"]
    assert "2 of 10 components have a line" in text_of(walking.get(url(stay, "walk")))


def test_line_somebody_else_wrote_meanwhile_is_not_written_over(
    walking: Client, owner: Actor, stay: Consignment, at: datetime
) -> None:
    sent = lines(walking, stay, paint__standing="reproduction", paint__basis="seen")
    inspecting.record_component(stay.pk, component="engine", standing="original", basis="measured", by=owner, at=at)
    walking.post(url(stay, "ledger"), sent)
    assert ComponentRecord.objects.filter(component="engine").count() == 1
    assert ComponentRecord.objects.get(component="engine").standing == "original"


def test_ledger_line_needs_standing_basis_and_the_source_of_as_built(walking: Client, stay: Consignment) -> None:
    changes = {"engine__as_found": "stamp 77", "engine__as_built": "4.2 six", "paint__standing": "original"}
    response = walking.post(url(stay, "ledger"), lines(walking, stay, **changes))
    wrong = {form.component.code: set(form.errors) for form in response.context["forms"] if form.errors}
    assert wrong == {"engine": {"standing", "basis", "as_built_basis"}, "paint": {"basis"}}
    assert not ComponentRecord.objects.exists()
    assert 'value="stamp 77"' in text_of(response)


def test_as_built_never_fills_as_found(walking: Client, stay: Consignment) -> None:
    changes = {
        "engine__standing": "not_established", "engine__basis": "not_established", "engine__as_built": "4.2 six",
        "engine__as_built_basis": "documented",
    }  # fmt: skip
    walking.post(url(stay, "ledger"), lines(walking, stay, **changes))
    row = ComponentRecord.objects.get()
    assert (row.as_built, row.as_found, row.standing) == ("4.2 six", "", "not_established")


def test_a_check_graded_again_counts_anew_and_the_first_stays(
    walking: Client, stay: Consignment, owner: Actor, at: datetime
) -> None:
    inspecting.record_check(stay.pk, finding=Finding(check_code="rear.overall", grade=4, basis="seen"), by=owner, at=at)
    grade(walking, stay, "rear", answer="1", basis="seen")
    assert [row.grade for row in CheckResult.objects.order_by("pk")] == [4, 1]
    assert "needs repair" in text_of(walking.get(url(stay, "walk")))
