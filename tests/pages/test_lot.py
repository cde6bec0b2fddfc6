"""The lot screen and the logging of a vehicle."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from inventory.actions import inspecting, offering, placing, recording
from inventory.actions.inspecting import Finding
from inventory.models import Consignment, Consignor, IdentityNumber, LogEntry, ModelFit, PriceOpinion, Vehicle
from inventory.queries import lot as queries
from inventory.queries.facts import the_lot
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build
from tests.pages.browse import sign_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def now() -> datetime:
    return timezone.now()


def arrival(**changes: Any) -> dict[str, Any]:
    return {
        "vin": "8A17J 104-221", "vin_read_off": "dash_plate", "year": "1968", "make": "Merrow", "model": "Alder",
        "mileage": "61240", "odometer_status": "not_stated", "consignor_name": "Ada Fenwick",
        "consignor_email": "ada@example.org", **changes,
    }  # fmt: skip


def needs(by: Actor, *, today: date | None = None) -> dict[str, str]:
    looking = queries.Looking(by=by, lot=the_lot(), today=today or timezone.localdate())
    _, rows = queries.lot_page(queries.Filters(here_only=False), number="1", looking=looking)
    return {row.stock_number: row.next_step for row in rows}


# the list


@pytest.mark.parametrize("role", ["owner", "intake", "sales"])
def test_every_role_sees_where_vehicles_stand_and_the_ask(
    client: Client, request: pytest.FixtureRequest, now: datetime, role: str
) -> None:
    actor = request.getfixturevalue(role)
    stay = build.consignment(State.LISTED, at=now)
    recording.record_place(stay.pk, place="Row C, bay 4", keys="box 12", by=actor, at=now)
    page = text_of(sign_in(client, actor).get(reverse("lot")))
    assert all(said in page for said in (stay.stock_number, "$48,500.00", "Row C, bay 4 · box 12", "Ada Fenwick"))


def test_signed_out_visitor_is_led_to_sign_in(client: Client) -> None:
    assert client.get(reverse("lot"))["Location"] == f"{reverse('sign_in')}?next=/"


def test_empty_lot_says_what_to_do_first(client: Client, owner: Actor, sales: Actor) -> None:
    page = text_of(sign_in(client, owner).get(reverse("lot")))
    assert "No vehicle is here yet." in page
    assert reverse("log_vehicle") in page
    assert "import yours" in page
    assert "when intake or the owner has logged them" in text_of(sign_in(client, sales).get(reverse("lot")))


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("100002", True), ("8a17j-100002", True), ("fenwick", True), ("555 0102", True), ("Merrow 1968", True),
        ("1969", False), ("zzz", False), ("larkin", True),
    ],
)  # fmt: skip
def test_one_box_finds_by_serial_name_phone_make_year_and_buyer(
    client: Client, owner: Actor, now: datetime, typed: str, found: bool
) -> None:
    build.consignment(State.BOOKED, at=now, consignor_name="Nobody Else", make="Tarn", vin="TT9", year=1971)
    stay = build.consignment(State.SOLD, at=now, consignor_phone="(555) 0102")
    response = sign_in(client, owner).get(reverse("lot"), {"q": typed})
    assert [row.stock_number for row in response.context["rows"]] == ([stay.stock_number] if found else [])
    assert ("No vehicle fits." in text_of(response)) is not found


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("555 0142", True), ("(555) 01-42", True), ("5550142", True), ("555-0143", False), ("71 88", False),
        ("A7188", True), ("7188", True), ("k-12", False), ("K12", True), ("k12 fenwick", True), ("larkin k12", False),
    ],
)  # fmt: skip
def test_one_box_finds_by_any_number_by_phone_however_it_is_written_and_by_key_tag(
    client: Client, owner: Actor, now: datetime, typed: str, found: bool
) -> None:
    build.consignment(State.BOOKED, at=now, consignor_name="Nobody Else", vin="TT9", consignor_phone="555 0199")
    stay = build.consignment(at=now, consignor_phone="(555) 01-42")
    recording.add_identity_number(stay.pk, kind="frame_stamp", value="F-44 A7188", basis="seen", by=owner, at=now)
    placing.set_key_tag(stay.pk, key_tag="K12", by=owner, at=now)
    response = sign_in(client, owner).get(reverse("lot"), {"q": typed})
    assert [row.stock_number for row in response.context["rows"]] == ([stay.stock_number] if found else [])


def test_box_in_the_head_opens_the_file_of_the_only_vehicle_that_fits(
    client: Client, owner: Actor, now: datetime
) -> None:
    one, two = build.consignment(at=now, model="Larch"), build.consignment(at=now)
    sign_in(client, owner)
    assert 'name="go"' in text_of(client.get(reverse("staff")))
    found = client.get(reverse("lot"), {"q": "larch", "go": "1"})
    assert found["Location"] == reverse("vehicle_file", args=[one.stock_number])
    assert client.get(reverse("lot"), {"q": two.stock_number, "go": "1"}).status_code == 302
    both = client.get(reverse("lot"), {"q": "Merrow", "go": "1"})
    assert (both.status_code, len(both.context["rows"])) == (200, 2)
    assert client.get(reverse("lot"), {"q": "larch"}).status_code == 200
    assert client.get(reverse("lot"), {"q": "", "go": "1"}).status_code == 200


def test_state_filter_and_vehicles_that_left(client: Client, owner: Actor, now: datetime) -> None:
    build.consignment(State.ON_LOT, at=now)
    gone = build.consignment(State.RELEASED, at=now)
    listed = build.consignment(State.LISTED, at=now)
    sign_in(client, owner)

    def shown(**query: str) -> set[str]:
        return {row.stock_number for row in client.get(reverse("lot"), query).context["rows"]}

    assert shown(state="listed") == {listed.stock_number}
    assert gone.stock_number not in shown()
    assert gone.stock_number in shown(gone="on")


def test_unknown_state_is_told_on_its_field_and_the_list_stays(client: Client, owner: Actor, now: datetime) -> None:
    build.consignment(at=now)
    response = sign_in(client, owner).get(reverse("lot"), {"state": "sunk", "q": "Merrow", "page": "x"})
    assert "sunk is not one of the available choices" in text_of(response)
    assert len(response.context["rows"]) == 1


def test_null_character_in_the_search_is_refused_not_sent_to_the_database(client: Client, owner: Actor) -> None:
    assert "Null characters are not allowed" in text_of(sign_in(client, owner).get(reverse("lot"), {"q": "a\x00"}))


def test_tallies_count_only_what_is_here(client: Client, owner: Actor, now: datetime) -> None:
    for state in (State.ON_LOT, State.ON_LOT, State.LISTED, State.RELEASED):
        build.consignment(state, at=now)
    tallies = sign_in(client, owner).get(reverse("lot")).context["tallies"]
    assert [(tally.state, tally.count) for tally in tallies] == [("on_lot", 2), ("listed", 1)]


def queries_of_the_lot(client: Client) -> int:
    with CaptureQueriesContext(
        connection,
    ) as captured:
        assert client.get(reverse("lot")).status_code == 200
    return len(captured)


def test_lot_takes_as_many_queries_with_30_rows_as_with_3(client: Client, owner: Actor, now: datetime) -> None:
    sign_in(client, owner)
    for _ in range(3):
        build.consignment(State.LISTED, at=now)
    with_3 = queries_of_the_lot(client)
    for _ in range(27):
        build.consignment(State.LISTED, at=now)
    assert queries_of_the_lot(client) == with_3


def test_paging_keeps_the_search(client: Client, owner: Actor, now: datetime, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(queries, "PER_PAGE", 2)
    for _ in range(3):
        build.consignment(at=now)
    response = sign_in(client, owner).get(reverse("lot"), {"q": "Merrow"})
    assert "?q=Merrow&amp;page=2" in response.content.decode()
    assert len(client.get(reverse("lot"), {"q": "Merrow", "page": 2}).context["rows"]) == 1


# what needs a person


@pytest.mark.parametrize(
    ("state", "step"),
    [
        (State.BOOKED, "waiting for arrival"),
        (State.ON_LOT, "inspect"),
        (State.INSPECTED, "record signed terms"),
        (State.LISTED, ""),
        (State.WITHDRAWN, "hand back to the consignor"),
    ],
)
def test_each_state_names_its_next_step(owner: Actor, now: datetime, state: State, step: str) -> None:
    stay = build.consignment(state, at=now)
    assert needs(owner) == {stay.stock_number: step}


def test_sold_names_the_day_by_which_the_consignor_is_paid(owner: Actor, now: datetime) -> None:
    recording.change_lot({"pay_within_days": 12}, by=owner, at=now)
    stay = build.consignment(State.SOLD, at=now)
    pay_by = timezone.localdate(now) + timedelta(days=12)
    assert needs(owner)[stay.stock_number].endswith(f"pay the consignor by {pay_by}")


def test_deposit_waits_until_its_hold_has_ended(owner: Actor, now: datetime) -> None:
    stay = build.consignment(State.DEPOSIT, at=now)
    last = timezone.localdate(now) + timedelta(days=7)
    assert needs(owner, today=last)[stay.stock_number] == f"held until {last}"
    assert needs(owner, today=last + timedelta(days=1))[stay.stock_number] == f"hold ended {last}"


@pytest.mark.parametrize(
    ("days", "said"), [(105, ""), (106, "agreement ends"), (120, "agreement ends"), (121, "ended")]
)
def test_agreement_warns_fourteen_days_before_its_end(owner: Actor, now: datetime, days: int, said: str) -> None:
    recording.change_lot({"aged_after_days": 3000}, by=owner, at=now)
    build.consignment(State.LISTED, at=now)
    (step,) = needs(owner, today=timezone.localdate(now) + timedelta(days=days)).values()
    assert said in step
    assert bool(step) is bool(said)


def test_stock_is_aged_one_day_after_the_limit(owner: Actor, now: datetime) -> None:
    recording.change_lot({"aged_after_days": 30}, by=owner, at=now)
    build.consignment(State.LISTED, at=now)
    listed_on = timezone.localdate(now)
    assert set(needs(owner, today=listed_on + timedelta(days=30)).values()) == {""}
    assert set(needs(owner, today=listed_on + timedelta(days=31)).values()) == {"listed for 31 days"}


@pytest.mark.parametrize(
    ("low", "high", "step"),
    [
        ("40000", "48500", ""),
        ("30000", "48499.99", "ask is above its band"),
        ("48500.01", "60000", "ask is below its band"),
    ],
)
def test_ask_outside_its_band_is_told(owner: Actor, now: datetime, low: str, high: str, step: str) -> None:
    stay = build.consignment(State.LISTED, at=now)
    fit = ModelFit.objects.create(learned={}, sales_used=20, sales_hash="", newest_outcome_id=0, by="tests", at=now)
    PriceOpinion.objects.create(
        consignment=stay, fit=fit, inputs={}, low=Decimal(low), likely=Decimal(low), high=Decimal(high),
        coverage_percent=80, by="tests", at=now,
    )  # fmt: skip
    assert needs(owner)[stay.stock_number] == step


def test_unanswered_offer_comes_before_aged_stock_and_after_money(
    client: Client, owner: Actor, sales: Actor, now: datetime
) -> None:
    offered = build.consignment(State.LISTED, at=now)
    offer = offering.log_offer(offered.pk, amount=Decimal("44000.00"), bidder="Bo", by=sales, at=now)
    sold = build.consignment(State.SOLD, at=now)
    response = sign_in(client, owner).get(reverse("lot"))
    assert [row.stock_number for row in response.context["today"]] == [sold.stock_number, offered.stock_number]
    assert "Answer the offer of $44,000.00" in text_of(response)
    offering.answer_offer(offer.pk, answer="refused", by=owner, at=now)
    assert needs(owner)[offered.stock_number] == ""


def test_title_paper_is_asked_for_before_listing(owner: Actor, now: datetime) -> None:
    stay = build.consignment(State.INSPECTED, at=now)
    build.agreeing.agree_terms(stay.pk, terms=build.terms(now), by=owner, at=now)
    assert needs(owner)[stay.stock_number] == "record the title paper"
    recording.add_title_paper(stay.pk, kind="title", standing="copied", by=owner, at=now)
    assert needs(owner)[stay.stock_number] == "record the title paper"
    recording.add_title_paper(stay.pk, kind="title", standing="read", by=owner, at=now)
    assert needs(owner)[stay.stock_number] == "set the ask and list"


def test_intake_is_told_what_to_inspect_and_nothing_of_money(
    client: Client, intake: Actor, sales: Actor, now: datetime
) -> None:
    waiting = build.consignment(State.ON_LOT, at=now)
    offered = build.consignment(State.LISTED, at=now)
    offering.log_offer(offered.pk, amount=Decimal("44000.00"), bidder="Bo", by=sales, at=now)
    build.consignment(State.SOLD, at=now)
    response = sign_in(client, intake).get(reverse("lot"))
    assert [row.stock_number for row in response.context["today"]] == [waiting.stock_number]
    assert {row.next_step for row in response.context["rows"]} == {"inspect", ""}
    page = text_of(response)
    assert "44,000" not in page
    assert "pay the consignor" not in page


# logging a vehicle


def test_intake_logs_a_vehicle_with_a_new_consignor(client: Client, intake: Actor) -> None:
    response = sign_in(client, intake).post(reverse("log_vehicle"), arrival())
    stay = Consignment.objects.get()
    assert response["Location"] == reverse("vehicle_file", args=[stay.stock_number])
    assert (stay.state, stay.vehicle.serial, stay.mileage) == (State.ON_LOT, "8A17J104221", 61240)
    assert (stay.consignor.name, stay.arrived_on) == ("Ada Fenwick", timezone.localdate())
    assert IdentityNumber.objects.get().kind == "dash_plate"


def test_known_consignor_is_chosen_not_doubled(client: Client, intake: Actor, now: datetime) -> None:
    known = build.consignment(at=now).consignor
    chosen = arrival(vin="X99", consignor_id=known.pk, consignor_name="", consignor_email="")
    sign_in(client, intake).post(reverse("log_vehicle"), chosen)
    assert Consignor.objects.get() == known
    assert known.consignments.count() == 2


def test_known_consignor_is_found_by_a_word_and_then_chosen(client: Client, intake: Actor, now: datetime) -> None:
    for number in range(30):
        Consignor.objects.create(name=f"Ada Fenwick {number:02}", created_at=now)
    sign_in(client, intake)
    assert "Ada Fenwick" not in text_of(client.get(reverse("log_vehicle")))
    nobody_new = {"vin": "X99", "consignor_name": "", "consignor_email": ""}
    for said, field, told in (
        ({"known": "fenwick 17"}, "consignor_id", "“fenwick 17” fits 1 here. Choose who it is."),
        ({"known": "fenwick"}, "consignor_id", "“fenwick” fits many: the first 20 are here."),
        ({"known": "larkin"}, "known", "“larkin” fits no known consignor."),
        ({"known": "fenwick", "consignor_name": "Bo Larkin"}, "known", "Empty one of the two."),
        ({"known": "", "consignor_id": "999999"}, "consignor_id", "not one of the available choices"),
    ):
        response = client.post(reverse("log_vehicle"), arrival(**{**nobody_new, **said}))
        assert told in " ".join(response.context["form"].errors[field]), said
    assert not Consignment.objects.exists()
    chosen = Consignor.objects.get(name="Ada Fenwick 17")
    client.post(reverse("log_vehicle"), arrival(**nobody_new, known="fenwick 17", consignor_id=chosen.pk))
    assert Consignment.objects.get().consignor == chosen


def test_booked_vehicle_has_not_arrived(client: Client, intake: Actor) -> None:
    sign_in(client, intake).post(reverse("log_vehicle"), arrival(booked_only="on"))
    stay = Consignment.objects.get()
    assert (stay.state, stay.arrived_on) == (State.BOOKED, None)


def test_odometer_is_never_actual_unless_somebody_says_so(client: Client, intake: Actor) -> None:
    page = sign_in(client, intake).get(reverse("log_vehicle")).content.decode()
    assert '<option value="not_stated" selected>' in page
    assert '<option value="actual" selected>' not in page


# 49 CFR 565.15's own example 1G4AH59H45G118341 has check digit 4 and year code 5; two neighbours are swapped here.
WRONG = "1G4AH59H45G113841"


def test_wrong_check_digit_warns_and_a_reason_lets_it_through(client: Client, intake: Actor) -> None:
    sign_in(client, intake)
    first = text_of(client.post(reverse("log_vehicle"), arrival(vin=WRONG, year="2005")))
    assert "The check digit of 1G4AH59H45G113841 (position 9) is 4; the others make it X." in first
    assert 'name="vin_reason"' in first
    assert not Vehicle.objects.exists()
    client.post(reverse("log_vehicle"), arrival(vin=WRONG, year="2005", vin_reason="read twice off the plate"))
    assert Vehicle.objects.get().serial_reason == "read twice off the plate"
    assert LogEntry.objects.filter(action="vehicle.serial_overridden").count() == 1


def test_reason_is_not_asked_for_where_the_number_is_right(client: Client, intake: Actor) -> None:
    assert 'name="vin_reason"' not in text_of(sign_in(client, intake).get(reverse("log_vehicle")))
    client.post(reverse("log_vehicle"), arrival(vin="1G4AH59H45G118341", year="2005"))
    assert Vehicle.objects.get().serial_reason == ""


@pytest.mark.parametrize(
    ("given", "field", "told"),
    [
        ({"year": "1768"}, "year", "Give a year from 1886"),
        ({"year": "68"}, "year", "A model year of 68 is not possible."),
        ({"year": ""}, "year", "This field is required."),
        ({"mileage": "-5"}, "mileage", "greater than or equal to 0"),
        ({"mileage": "9999999"}, "mileage", "less than or equal to 2000000"),
        ({"arrived_on": "2999-01-01"}, "arrived_on", "is in the future"),
        ({"booked_only": "on", "arrived_on": "2026-01-05"}, "arrived_on", "has not arrived"),
        ({"consignor_name": "", "consignor_email": ""}, "consignor_name", "Choose a known consignor above"),
        ({"consignor_email": "ada"}, "consignor_email", "valid email"),
        ({"odometer_status": ""}, "odometer_status", "This field is required."),
        ({"vin": "8A17J100001"}, "vin", "is here already"),
    ],
)
def test_bad_arrival_is_told_on_its_field_and_writes_nothing(
    client: Client, intake: Actor, now: datetime, given: dict[str, str], field: str, told: str
) -> None:
    build.consignment(at=now)
    response = sign_in(client, intake).post(reverse("log_vehicle"), arrival(**given))
    assert told in " ".join(response.context["form"].errors[field])
    assert '<p class="error">' in text_of(response)
    assert Consignment.objects.count() == Vehicle.objects.count() == Consignor.objects.count() == 1
    assert 'value="Alder"' in text_of(response)


def test_both_a_known_and_a_new_consignor_is_asked_back(client: Client, intake: Actor, now: datetime) -> None:
    known = build.consignment(at=now).consignor
    response = sign_in(client, intake).post(reverse("log_vehicle"), arrival(vin="X99", consignor_id=known.pk))
    assert "Keep one of the two." in text_of(response)
    assert Consignment.objects.count() == 1


def test_sales_staff_may_not_log_a_vehicle(client: Client, sales: Actor) -> None:
    assert sign_in(client, sales).post(reverse("log_vehicle"), arrival()).status_code == 403
    assert not Consignment.objects.exists()


def test_open_safety_flag_is_what_a_person_looks_at_first_until_it_is_cleared(
    client: Client, owner: Actor, now: datetime
) -> None:
    """49 CFR 570.9(a): at least 2/32 in of tread."""
    stay = build.consignment(State.LISTED, at=now)
    inspecting.begin_inspection(stay.pk, by=owner, at=now)
    bald = Finding(check_code="tyres.tread_left_front", grade=1, basis="measured", reading=Decimal("1.5"))
    row = inspecting.record_check(stay.pk, finding=bald, by=owner, at=now)
    sign_in(client, owner)
    assert "Look at an open safety flag" in text_of(client.get("/"))
    inspecting.clear_flag(stay.pk, key=f"check-{row.pk}", reason="new tyres", by=owner, at=now)
    assert "safety flag" not in text_of(client.get("/"))


def test_flag_that_a_later_answer_replaced_is_none(client: Client, owner: Actor, now: datetime) -> None:
    stay = build.consignment(State.LISTED, at=now)
    inspecting.begin_inspection(stay.pk, by=owner, at=now)
    for grade in (0, 3):
        loose = Finding(check_code="tyres.nuts", grade=grade, basis="seen")
        inspecting.record_check(stay.pk, finding=loose, by=owner, at=now)
    assert "safety flag" not in text_of(sign_in(client, owner).get("/"))
