"""The component ledger: its list, a screen for each line, the build date."""

from datetime import date, datetime

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.actions import decoding, recording
from inventory.models import BuildDate, ComponentRecord, Consignment
from inventory.rules.components import COMPONENTS, EMBLEM_TOLD
from inventory.rules.roles import Actor
from tests import build
from tests.actions.test_decoding import SAID
from tests.pages.browse import sign_in, text_of, url

pytestmark = pytest.mark.django_db
LATE = {"earliest_on": date(1967, 6, 1), "latest_on": date(1967, 6, 1), "date_basis": "measured"}


@pytest.fixture
def stay(at: datetime) -> Consignment:
    return build.consignment(at=at)


@pytest.fixture
def writing(client: Client, intake: Actor) -> Client:
    return sign_in(client, intake)


def line_url(stay: Consignment, component: str = "engine") -> str:
    return url(stay, "ledger_line", component=component)


def shown(client: Client, stay: Consignment, component: str = "engine", **changes: str) -> dict[str, str]:
    """What the page itself would send, with some fields changed."""
    form = client.get(line_url(stay, component)).context["form"]
    sent = {bound.html_name: str(bound.value() or "") for bound in form if bound.name != "not_fitted"}
    return {**sent, "after": str(form["after"].value()), "do": "save", **changes}


def save(client: Client, stay: Consignment, component: str = "engine", **changes: str) -> str:
    """The page after a line was saved, or the line again where it was not."""
    return text_of(client.post(line_url(stay, component), shown(client, stay, component, **changes), follow=True))


ENGINE = {
    "standing": "original", "basis": "seen", "as_found": "straight six", "number": "3A-77120",
    "number_basis": "measured", "date_code": "C147", "earliest_on": "1967-03", "date_basis": "measured",
    "as_built": "4.2 six", "as_built_basis": "documented", "note": "pad clean",
}  # fmt: skip


def test_list_shows_every_component_with_what_is_said(writing: Client, stay: Consignment, at: datetime) -> None:
    build.write_line(stay, at=at, as_found="straight six", number="3A-77120", number_basis="measured", **LATE)
    build.write_line(stay, at=at, component="top", standing="not_established", not_fitted=True)
    page = text_of(writing.get(url(stay, "ledger")))
    assert all(component.title in page for component in COMPONENTS)
    assert "2 of 28 components have a line." in page
    assert "straight six · no. 3A-77120 · made 1967-06-01" in page
    assert page.count("nothing said") == 26
    assert "never had one" in page
    assert "2 of 28 components have a line" in text_of(writing.post(url(stay, "begin_walk"), follow=True))


def test_line_is_saved_whole_and_shown_again(writing: Client, stay: Consignment) -> None:
    page = save(writing, stay, **ENGINE)
    assert "Engine block and number: the line is written." in page
    row = ComponentRecord.objects.get()
    assert (row.number, row.date_code, row.earliest_on, row.latest_on) == (
        "3A-77120", "C147", date(1967, 3, 1), date(1967, 3, 31),
    )  # fmt: skip
    again = shown(writing, stay)
    assert {name: again[name] for name in ENGINE} == ENGINE


def test_save_leads_back_to_its_place_or_on_to_the_next(writing: Client, stay: Consignment) -> None:
    answer = writing.post(line_url(stay), shown(writing, stay, **ENGINE))
    assert answer["Location"] == f"{url(stay, 'ledger')}#engine"
    answer = writing.post(line_url(stay, "heads"), shown(writing, stay, "heads", do="next"))
    assert answer["Location"] == line_url(stay, "induction")
    last = COMPONENTS[-1].code
    answer = writing.post(line_url(stay, last), shown(writing, stay, last, do="next"))
    assert answer["Location"] == f"{url(stay, 'ledger')}#{last}"


def test_unchanged_line_is_not_written_again(writing: Client, stay: Consignment) -> None:
    assert "Engine block and number: nothing was changed." in save(writing, stay)
    save(writing, stay, **ENGINE)
    assert "Engine block and number: nothing was changed." in save(writing, stay)
    assert ComponentRecord.objects.count() == 1


def test_line_sent_twice_is_one(writing: Client, stay: Consignment) -> None:
    sent = shown(writing, stay, **ENGINE)
    for _ in range(2):
        writing.post(line_url(stay), sent)
    assert ComponentRecord.objects.count() == 1


def test_line_somebody_else_wrote_meanwhile_is_not_written_over(
    writing: Client, stay: Consignment, at: datetime
) -> None:
    sent = shown(writing, stay, **ENGINE)
    build.write_line(stay, at=at, standing="missing")
    page = text_of(writing.post(line_url(stay), sent))
    assert "tests wrote a line of this component since you looked: missing" in page
    assert 'value="3A-77120"' in page
    assert ComponentRecord.objects.count() == 1


def test_as_built_never_fills_as_found(writing: Client, stay: Consignment) -> None:
    given = {"standing": "not_established", "basis": "not_established", "as_built": "4.2 six"}
    save(writing, stay, **given, as_built_basis="documented")
    row = ComponentRecord.objects.get()
    assert (row.as_built, row.as_found, row.number, row.standing) == ("4.2 six", "", "", "not_established")


@pytest.mark.parametrize(
    ("changes", "wrong"),
    [
        ({"as_found": "six"}, {"standing", "basis"}),
        ({"standing": "original", "basis": "seen", "as_built": "six"}, {"as_built_basis"}),
        ({"standing": "original", "basis": "seen", "number": "77"}, {"number_basis"}),
        ({"standing": "original", "basis": "seen", "date_code": "C147"}, {"date_basis"}),
        ({"standing": "original", "basis": "seen", "earliest_on": "May 67", "date_basis": "seen"}, {"earliest_on"}),
        ({"standing": "original", "basis": "seen", "latest_on": "1967", "date_basis": "seen"}, {"earliest_on"}),
        (
            {"standing": "missing", "basis": "seen", "earliest_on": "1967", "latest_on": "1966", "date_basis": "seen"},
            {"earliest_on"},
        ),
        ({"standing": "original", "not_fitted": "on"}, {"not_fitted"}),
        ({"standing": "nice", "basis": "seen"}, {"standing"}),
    ],
)  # fmt: skip
def test_what_is_wrong_is_told_on_its_field_and_nothing_is_lost(
    writing: Client, stay: Consignment, changes: dict[str, str], wrong: set[str]
) -> None:
    response = writing.post(line_url(stay), shown(writing, stay, note="left side", **changes))
    assert set(response.context["form"].errors) == wrong
    assert "left side" in text_of(response)
    assert not ComponentRecord.objects.exists()


def test_component_the_vehicle_never_had_needs_nothing_else(writing: Client, stay: Consignment) -> None:
    save(writing, stay, "transfer_case", not_fitted="on")
    row = ComponentRecord.objects.get()
    assert (row.not_fitted, row.standing, row.basis) == (True, "not_established", "not_established")


def test_emblem_is_told_and_does_not_block(writing: Client, stay: Consignment) -> None:
    assert EMBLEM_TOLD in save(writing, stay, standing="original", basis="seen", as_found="badge says 4.2")
    assert ComponentRecord.objects.count() == 1
    assert EMBLEM_TOLD not in save(writing, stay, number="3A-77120", number_basis="measured")


def test_date_is_judged_at_entry_and_shown_first_everywhere(writing: Client, stay: Consignment, at: datetime) -> None:
    build.built(stay, at=at, first="1967-05")
    page = save(writing, stay, "heads", standing="original", basis="seen", earliest_on="1967-06-01", date_basis="seen")
    told = "It cannot have been fitted at the factory."
    assert f"Recorded as original, and shown as a contradiction. {told}" in page
    assert page.index("Contradictions") < page.index("nothing said")
    assert told in text_of(writing.get(line_url(stay, "heads")))
    page = text_of(writing.get(url(stay, "vehicle_file")))
    section = page[page.index('id="ledger-title"') :]
    assert section.index("Contradictions") < section.index(told) < section.index("<table")
    assert "1 contradiction." in text_of(writing.post(url(stay, "begin_walk"), follow=True))


def test_usual_date_is_told_as_good_news(writing: Client, stay: Consignment, at: datetime) -> None:
    build.built(stay, at=at, first="1967-05")
    page = save(writing, stay, standing="original", basis="measured", earliest_on="1967-04", date_basis="measured")
    assert '<li class="success">Engine block and number: Made 1 to 60 days before the vehicle, as is usual.' in page


def test_doubtful_date_is_a_question_in_the_file(writing: Client, stay: Consignment, at: datetime) -> None:
    build.built(stay, at=at, first="1967-05", basis="documented")
    build.write_line(stay, at=at, **LATE)
    page = text_of(writing.get(url(stay, "vehicle_file")))
    assert "Questions" in page
    assert "the date of the building is documented" in page
    assert "Contradictions" not in page


def test_codes_are_looked_up_without_saving(writing: Client, stay: Consignment, intake: Actor, at: datetime) -> None:
    decoding.add_meaning(SAID, by=intake, at=at)
    response = writing.post(line_url(stay), shown(writing, stay, do="look", date_code="6b10", note="left side"))
    page = text_of(response)
    assert "10 February, made 1966-02-10" in page
    assert not response.context["form"].errors
    assert 'value="6b10"' in page
    assert "left side" in page
    assert not ComponentRecord.objects.exists()
    nothing = text_of(writing.post(line_url(stay), shown(writing, stay, do="look", date_code="9Z")))
    assert "has nothing for this make, year and component" in nothing


def test_meanings_stand_beside_the_line_all_of_them(
    writing: Client, stay: Consignment, intake: Actor, at: datetime
) -> None:
    for year in (1966, 1976):
        day = date(year, 2, 10)
        said = {"earliest_on": day, "latest_on": day}
        decoding.add_meaning(decoding.Meaning(**{**SAID.__dict__, **said}), by=intake, at=at)
    decoding.add_meaning(
        decoding.Meaning(**{**SAID.__dict__, "component": "data_plate", "written": "E42", "meaning": "4.2 liters"}),
        by=intake, at=at,
    )  # fmt: skip
    build.write_line(stay, at=at, date_code="6B10", date_basis="seen", as_built="E42", as_built_basis="documented")
    page = text_of(writing.get(line_url(stay)))
    assert page.count("10 February, made") == 2
    assert "1966 or 1976" in page
    assert "4.2 liters" in page


def test_build_date_is_recorded_and_the_latest_shown(writing: Client, stay: Consignment) -> None:
    given = {"earliest_on": "1967-05", "basis": "documented", "source": "data plate"}
    writing.post(url(stay, "add_build_date"), given)
    page = text_of(
        writing.post(url(stay, "add_build_date"), {**given, "latest_on": "1967-06", "basis": "seen"}, follow=True)
    )
    assert "Built 1967-05 to 1967-06 (seen)" in page
    assert BuildDate.objects.count() == 2


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"earliest_on": ""}, "earliest_on"), ({"earliest_on": "67"}, "earliest_on"), ({"basis": ""}, "basis"),
        ({"source": ""}, "source"), ({"latest_on": "1966"}, "earliest_on"), ({"earliest_on": "2190"}, "earliest_on"),
    ],
)  # fmt: skip
def test_bad_build_date_is_told_on_its_field(
    writing: Client, stay: Consignment, changes: dict[str, str], field: str
) -> None:
    given = {"earliest_on": "1967-05", "basis": "seen", "source": "cowl stamp", **changes}
    response = writing.post(url(stay, "add_build_date"), given)
    assert set(response.context["form"].errors) == {field}
    assert not BuildDate.objects.exists()


def test_line_of_an_earlier_component_is_read_not_written(writing: Client, stay: Consignment, at: datetime) -> None:
    ComponentRecord.objects.create(
        vehicle=stay.vehicle, component="outer_panels", standing="original", basis="seen", by="x", at=at
    )
    assert "Outer panels" in text_of(writing.get(url(stay, "ledger")))
    assert "Outer panels" in text_of(writing.get(url(stay, "vehicle_file")))
    assert writing.get(line_url(stay, "outer_panels")).status_code == 404


def test_pages_take_as_many_queries_however_much_is_written(
    writing: Client, stay: Consignment, intake: Actor, at: datetime
) -> None:
    build.built(stay, at=at, first="1967-05")
    build.write_line(stay, at=at, component="frame", **LATE)

    def asked() -> list[int]:
        counts = []
        for address in (url(stay, "ledger"), line_url(stay, "frame"), url(stay, "vehicle_file")):
            with CaptureQueriesContext(connection) as captured:
                assert writing.get(address).status_code == 200
            counts.append(len(captured))
        return counts

    few = asked()
    for component in COMPONENTS:
        build.write_line(stay, at=at, component=component.code, **LATE)
        recording.add_modification(
            stay.pk, kind="other", what="changed", fitting="bolt_on", basis="seen",
            components=[component.code, "frame"], by=intake, at=at,
        )  # fmt: skip
    assert asked() == few


@pytest.mark.parametrize("name", ["ledger_line", "add_build_date"])
def test_who_may_write_the_ledger(client: Client, sales: Actor, stay: Consignment, name: str) -> None:
    address = line_url(stay) if name == "ledger_line" else url(stay, name)
    assert client.post(address)["Location"].startswith(reverse("sign_in"))
    assert sign_in(client, sales).post(address).status_code == 403


def test_who_comes_back_from_signing_in_finds_the_ledger(writing: Client, stay: Consignment) -> None:
    assert writing.get(url(stay, "add_build_date"))["Location"] == url(stay, "ledger")


@pytest.mark.parametrize("component", ["wings", "data_plate"])
def test_unknown_component_is_nothing_here(writing: Client, stay: Consignment, component: str) -> None:
    assert writing.get(line_url(stay, component)).status_code == 404
