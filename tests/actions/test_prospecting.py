"""A vehicle is told of, priced, offered terms, and booked with nothing typed again."""

from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from inventory.actions import pricing, prospecting, recording
from inventory.actions.importing import import_sales
from inventory.actions.prospecting import Person, ToldOf
from inventory.actions.writing import trade_day
from inventory.errors import NotAllowed, Refused, TooLate
from inventory.models import Consignor, LogEntry, PriceOpinion, Prospect, StaffShare, Terms
from inventory.queries import vehicles_to_come as queries
from inventory.rules.roles import Actor
from inventory.rules.states import State
from inventory.sheets import Options
from inventory.uploads import clean_picture
from tests import build
from tests.test_uploads import picture

pytestmark = pytest.mark.django_db
BOOK = Path(__file__).resolve().parents[2] / "fixtures" / "demo" / "past_sales.csv"
TOLD = ToldOf(
    year=1968, make="Merrow", model="Alder", serial="8A17J104221", mileage=61240, odometer_status="actual",
    condition_low=Decimal(80), kinds=("brakes", "engine"), cut=("engine",), story="Bought from an uncle.",
    hoped_for=Decimal("52000.00"),
)  # fmt: skip
ADA = Person(name="Ada Fenwick", phone="555-0110 2244", email="ada@example.org")


def logged(*, by: Actor, at: datetime, person: Person = ADA, told: ToldOf = TOLD, **more: Any) -> Prospect:
    return prospecting.log_prospect(told, person=person, by=by, at=at, **more)


def proposed(row: Prospect, *, by: Actor, at: datetime, **changes: Any) -> Prospect:
    terms = build.terms(at, signed_by="", signed_on=None, rate=Decimal("8.125"), floor=Decimal("40000.01"), **changes)
    return prospecting.propose_terms(row.pk, terms=terms, by=by, at=at)


def test_logged_for_a_contact_who_is_found_again(sales: Actor, at: datetime) -> None:
    first, second = logged(by=sales, at=at), logged(by=sales, at=at)
    assert first.contact == second.contact
    assert (first.condition_low, first.condition_high, first.originality_low) == (80, 80, None)
    assert first.modifications == [["brakes", "bolt_on"], ["engine", "cut_or_welded"]]


def test_intake_may_not_keep_prospects_and_sales_may_not_propose(intake: Actor, sales: Actor, at: datetime) -> None:
    with pytest.raises(NotAllowed):
        logged(by=intake, at=at)
    row = logged(by=sales, at=at)
    with pytest.raises(NotAllowed):
        proposed(row, by=sales, at=at)


def test_proposed_terms_are_kept_exactly_and_give_a_net(owner: Actor, at: datetime) -> None:
    row = proposed(logged(by=owner, at=at), by=owner, at=at)
    row.refresh_from_db()
    assert (row.stage, row.terms["columns"]["floor"], row.terms["columns"]["rate"]) == ("offered", "40000.01", "8.125")
    net = queries.proposal_of(row, today=trade_day(at)).net_sheet[0]
    assert (net.label, net.commission, net.due) == ("Hoped for", Decimal("-4225.00"), Decimal("47775.00"))  # 8.125 %


@pytest.mark.parametrize(
    "changes",
    [
        {"rate": Decimal(101)}, {"signed_by": "Ada"}, {"floor": Decimal(0)},
        {"payees": (("Ada", Decimal(50)),)}, {"ends_on": datetime(2020, 1, 1).date()},  # noqa: DTZ001
    ],
)  # fmt: skip
def test_bad_terms_are_refused_as_those_of_a_stay(owner: Actor, at: datetime, changes: dict[str, Any]) -> None:
    row = logged(by=owner, at=at)
    terms = build.terms(at, **{"signed_by": "", "signed_on": None, **changes})
    with pytest.raises(Refused):
        prospecting.propose_terms(row.pk, terms=terms, by=owner, at=at)
    row.refresh_from_db()
    assert row.terms == {}


def test_booking_types_nothing_again_and_grades_nothing(
    owner: Actor, sales: Actor, at: datetime, settings: Any, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    row = proposed(logged(by=sales, at=at), by=owner, at=at)
    made = clean_picture(picture(), name="front.jpg")
    prospecting.add_prospect_photo(row.pk, picture=made, caption="front", by=sales, at=at)
    booked = prospecting.book(row.pk, by=sales, at=at)
    stay = booked.stay
    assert (stay.state, stay.mileage, stay.odometer_status) == (State.BOOKED, 61240, "not_stated")
    assert (stay.consignor.name, booked.was_known) == ("Ada Fenwick", False)
    assert [(n.basis, n.kind) for n in stay.vehicle.identity_numbers.all()] == [("told", "other")]
    assert {(m.kind, m.fitting, m.basis) for m in stay.vehicle.modifications.all()} == {
        ("brakes", "bolt_on", "told"), ("engine", "cut_or_welded", "told"),
    }  # fmt: skip
    photo = stay.photos.get()
    assert (photo.caption, photo.public) == ("front, sent by the owner before arrival", False)
    assert "Bought from an uncle." in stay.note
    terms = Terms.objects.get(consignment=stay)
    assert (terms.by, terms.signed_by, terms.floor, terms.rate) == (
        owner.name,
        "",
        Decimal("40000.01"),
        Decimal("8.125"),
    )
    assert not stay.inspections.exists()
    row.refresh_from_db()
    assert (row.stage, row.consignment, row.contact.consignor) == ("booked", stay, stay.consignor)  # type: ignore[union-attr]
    with pytest.raises(TooLate):
        prospecting.book(row.pk, by=sales, at=at)


def test_booked_for_the_consignor_who_has_the_same_phone(sales: Actor, at: datetime) -> None:
    row = logged(by=sales, at=at)
    known = Consignor.objects.create(name="A. Fenwick", phone="+1 555 0110 2244", created_at=at)
    booked = prospecting.book(row.pk, by=sales, at=at)
    assert (booked.stay.consignor, booked.was_known) == (known, True)


def test_who_brought_it_in_shares_where_the_lot_shares(owner: Actor, sales: Actor, at: datetime) -> None:
    told = ToldOf(year=1968, make="Merrow", model="Alder", brought_in_by=sales.id)
    prospecting.book(logged(by=sales, at=at, told=told).pk, by=sales, at=at)
    assert not StaffShare.objects.exists(), "this lot shares nothing"
    recording.change_lot({"brought_in_percent": Decimal(10)}, by=owner, at=at)
    prospecting.book(logged(by=sales, at=at, told=told).pk, by=sales, at=at)
    (row,) = StaffShare.objects.all()
    assert (row.part, row.percent, row.user_id) == ("brought_in", Decimal(10), sales.id)


def test_number_that_is_here_already_is_refused_and_nothing_is_made(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.ON_LOT, at=at, vin="8A17J104221")
    row = logged(by=sales, at=at)
    before = (Consignor.objects.count(), LogEntry.objects.count())
    with pytest.raises(Refused, match=f"Open {stay.stock_number}, or release it first"):
        prospecting.book(row.pk, by=sales, at=at)
    assert (Consignor.objects.count(), LogEntry.objects.count()) == before


def test_what_is_told_never_takes_the_place_of_what_is_on_record(sales: Actor, at: datetime) -> None:
    stay = build.consignment(State.RELEASED, at=at, vin="8A17J104221", color="blue")
    told = ToldOf(year=1968, make="Merrow", model="Alder", serial="8A17J104221", color="red", engine="V8")
    back = prospecting.book(logged(by=sales, at=at, told=told).pk, by=sales, at=at).stay.vehicle
    assert (back.pk, back.color, back.engine) == (stay.vehicle_id, "blue", "V8")


def test_number_whose_check_fails_is_booked_with_a_reason(sales: Actor, at: datetime) -> None:
    told = ToldOf(year=1989, make="Merrow", model="Alder", serial="1M8GDM9A0KP042788")  # the check digit would be X
    row = logged(by=sales, at=at, told=told)
    with pytest.raises(Refused) as caught:
        prospecting.book(row.pk, by=sales, at=at)
    assert caught.value.field == "vin_reason"
    stay = prospecting.book(row.pk, vin_reason="told by phone", by=sales, at=at).stay
    assert stay.vehicle.serial_reason == "told by phone"


def test_declined_can_be_opened_again_and_keeps_its_terms(owner: Actor, at: datetime) -> None:
    row = proposed(logged(by=owner, at=at), by=owner, at=at)
    prospecting.decline(row.pk, declined="by_owner", because="sold to a friend", by=owner, at=at)
    with pytest.raises(TooLate, match="Open it again first"):
        prospecting.follow_up(row.pk, follow_up_on=None, by=owner, at=at)
    row = prospecting.open_again(row.pk, by=owner, at=at)
    assert (row.stage, row.declined, row.ended_on) == ("offered", "", None)


def test_changed_on_an_older_page_is_refused(sales: Actor, at: datetime) -> None:
    row = logged(by=sales, at=at)
    prospecting.follow_up(row.pk, follow_up_on=trade_day(at) + timedelta(days=3), version=1, by=sales, at=at)
    with pytest.raises(TooLate):
        prospecting.decline(row.pk, declined="by_lot", because="too far", version=1, by=sales, at=at)


def test_band_by_word_alone_takes_condition_widely(sales: Actor, at: datetime, tmp_path: Path) -> None:
    row = logged(by=sales, at=at)
    with pytest.raises(Refused, match="There are 0 sold outcomes"):
        pricing.give_prospect_opinion(row.pk, by=sales, at=at)
    few = tmp_path / "few.csv"
    few.write_text("\n".join(BOOK.read_text().splitlines()[:61]))
    import_sales(few, name=few.name, options=Options(), by=build.BUILDER, at=at)
    pricing.fit_prices(by=build.BUILDER, at=at, refits=0)
    opinion = pricing.give_prospect_opinion(row.pk, by=sales, at=at)
    assert (opinion.consignment, opinion.prospect) == (None, row)
    assert (opinion.inputs["condition_low"], opinion.inputs["condition_high"]) == ("50.0", "80.0")
    assert opinion.inputs["originality_low"] is None
    seen = queries.prospect_seen(row, today=trade_day(at))
    assert seen.check_first is not None
    why = {one.question.title: one.question.why for one in seen.check_first.rows}
    assert (why["Condition"], why["Originality"], why["Odometer status"]) == (
        "told only",
        "not told",
        "not established",
    )
    stay = prospecting.book(row.pk, by=sales, at=at).stay
    pricing.give_opinion(stay.pk, by=sales, at=at)
    told = queries.before_arrival(stay)
    assert told is not None
    assert (told.condition, told.then) == ("80", opinion)
    assert told.now == PriceOpinion.objects.get(consignment=stay)
