"""The order of places on the sheet, and what a step of an incident may be."""

import pytest

from inventory.errors import Refused
from inventory.rules.floor_words import IncidentKind, PlaceKind
from inventory.rules.incidents import check_step, is_open, missing
from inventory.rules.people import sought_digits
from inventory.rules.places import is_away, sheet_order


def test_bays_come_in_their_order_then_other_kinds_then_what_was_typed() -> None:
    places = [
        ("", "", 0), ("behind the barn", "", 0), ("Shop", PlaceKind.SHOP, 0), ("Bay 10", PlaceKind.BAY, 1),
        ("Bay 2", PlaceKind.BAY, 1), ("Front", PlaceKind.BAY, 0),
    ]  # fmt: skip
    ranked = sorted(places, key=lambda place: sheet_order(place[0], kind=place[1], order=place[2]))
    assert [name for name, _, _ in ranked] == ["Front", "Bay 2", "Bay 10", "Shop", "behind the barn", ""]


def test_only_event_home_and_road_are_away() -> None:
    assert [kind for kind in PlaceKind if is_away(kind)] == [PlaceKind.EVENT, PlaceKind.HOME, PlaceKind.ROAD]


@pytest.mark.parametrize(
    ("text", "digits"),
    [("(555) 01-42", "5550142"), ("+1 555.0142", "15550142"), ("12", ""), ("26-0001", "260001"), ("K12345", "")],
)
def test_digits_sought_are_those_of_a_phone_number(text: str, digits: str) -> None:
    assert sought_digits(text) == digits


def test_incident_is_open_until_it_is_closed_and_when_it_is_opened_again() -> None:
    assert is_open(["note", "insurer_told"])
    assert not is_open(["note", "closed", "note"])
    assert is_open(["closed", "opened_again"])


def test_what_is_missing_is_named_and_the_police_only_after_theft() -> None:
    assert missing(IncidentKind.DAMAGE, steps=[]) == ["the insurer is not told", "the consignor is not told"]
    assert missing(IncidentKind.THEFT, steps=["insurer_told", "consignor_told"]) == ["the police are not told"]


@pytest.mark.parametrize(
    ("kind", "text", "before", "code"),
    [
        ("closed", "", [], "empty"), ("note", "", [], "empty"), ("closed", "paid", ["closed"], "closed_already"),
        ("opened_again", "more", [], "open_already"),
    ],
)  # fmt: skip
def test_step_that_cannot_be_is_refused(kind: str, text: str, before: list[str], code: str) -> None:
    with pytest.raises(Refused) as refusal:
        check_step(kind, text=text, before=before)
    assert refusal.value.code == code
