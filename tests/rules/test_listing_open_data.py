"""Open data of a vehicle, held against the part of https://schema.org/Vehicle that is written down in `fixtures`."""

import json
import re
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

from inventory.rules.listing_open_data import Offered, as_script, feed, open_data
from inventory.rules.listing_record import PartSaid
from inventory.rules.listing_spec import reminders, spec_sheet
from tests.rules.claim_sentences import TOLD_ENGINE

VOCABULARY = json.loads(
    (Path(__file__).resolve().parents[2] / "fixtures" / "published" / "schema_org_vehicle.json").read_text()
)
FULL = replace(
    TOLD_ENGINE, engine="310 V8", transmission="four-speed", color="green", serial="8A17J104221", serial_kind="serial"
)
OFFERED = Offered(
    url="https://lot.example/for-sale/1/", name=FULL.name, stock_number="C-0001", description="It was kept.",
    specs=spec_sheet(FULL), serial_kind="serial", mileage=61240, odometer_status="actual",
    faults=("Needs repair: the left rocker.",), images=("https://lot.example/photo/1/",), ask=Decimal("38500.00"),
    reserved=False, seller="The lot", seller_address="1 Road\nTown", seller_phone="555 0100",
)  # fmt: skip
FORMS = {
    "Text": lambda value: isinstance(value, str) and bool(value),
    "URL": lambda value: isinstance(value, str) and value.startswith(("https://", "http://")),
    "Number": lambda value: isinstance(value, int) and not isinstance(value, bool),
    "Decimal": lambda value: isinstance(value, str) and re.fullmatch(r"\d+\.\d\d", value) is not None,
    "Currency": lambda value: value == "USD",
}


def wrong(node: dict[str, Any]) -> list[str]:
    """What of a node the vocabulary does not allow."""
    known = VOCABULARY["types"][node["@type"]]
    found = []
    for name, value in node.items():
        if name.startswith("@"):
            continue
        for one in value if isinstance(value, list) else [value]:
            if name not in known or not any(fits(one, kind) for kind in known[name]):
                found.append(f"{node['@type']}.{name}: {one}")
    return found


def fits(value: Any, kind: str) -> bool:
    if kind in VOCABULARY["types"]:
        return isinstance(value, dict) and value["@type"] == kind and not wrong(value)
    if kind in VOCABULARY["enumerations"]:
        return value in VOCABULARY["enumerations"][kind]
    return bool(FORMS[kind](value))


def test_every_property_is_of_the_vocabulary() -> None:
    assert wrong(open_data(OFFERED)) == []
    assert wrong(feed([OFFERED], url="https://lot.example/feed")) == []


def test_values_are_what_is_known_and_say_what_they_rest_on() -> None:
    said = open_data(OFFERED)
    assert said["mileageFromOdometer"] == {
        "@type": "QuantitativeValue", "value": 61240, "unitCode": "SMI",
        "valueReference": "stated to be the actual mileage; the lot has not verified it",
    }  # fmt: skip
    assert said["vehicleEngine"]["engineType"] == "310 V8 (the owner reports)"
    assert said["color"] == "green"  # seen at the inspection
    assert said["identifier"]["value"] == "8A17J104221"
    assert said["knownVehicleDamages"] == "Needs repair: the left rocker."
    assert (said["offers"]["price"], said["offers"]["availability"]) == ("38500.00", "https://schema.org/InStock")


def test_what_is_not_known_is_left_out() -> None:
    bare = replace(
        OFFERED,
        specs=spec_sheet(TOLD_ENGINE),
        mileage=None,
        faults=(),
        images=(),
        ask=None,
        seller_phone="",
    )
    said = open_data(bare)
    gone = {"mileageFromOdometer", "vehicleEngine", "vehicleTransmission", "color", "image", "offers", "identifier",
            "vehicleIdentificationNumber", "knownVehicleDamages"}  # fmt: skip
    assert gone.isdisjoint(said)
    assert wrong(said) == []


def test_number_of_seventeen_signs_alone_is_a_vehicle_identification_number() -> None:
    vin = replace(FULL, serial="1HGCM82633A004352", serial_kind="vin")
    said = open_data(replace(OFFERED, specs=spec_sheet(vin), serial_kind="vin"))
    assert said["vehicleIdentificationNumber"] == "1HGCM82633A004352"
    assert "identifier" not in said


def test_vehicle_under_deposit_is_reserved() -> None:
    assert open_data(replace(OFFERED, reserved=True))["offers"]["availability"] == "https://schema.org/Reserved"


def test_nothing_in_the_data_closes_the_element() -> None:
    text = as_script(open_data(replace(OFFERED, description="</script><script>alert(1)</script> & more\u2028")))
    assert not set("<>&\u2028") & set(text)
    assert json.loads(text)["description"].startswith("</script>")


def test_spec_sheet_puts_a_basis_beside_each_value() -> None:
    rows = {row.code: row for row in spec_sheet(FULL)}
    assert (rows["engine"].value, rows["engine"].rests_on) == ("310 V8", "the owner reports")
    assert rows["year"].rests_on == "per the papers or plate"
    assert rows["odometer_status"].rests_on == "the owner reports"
    found = replace(FULL, parts=(PartSaid(code="engine", standing="original", basis="measured", as_found="327 V8"),))
    assert ("327 V8", "measured by us") in [(row.value, row.rests_on) for row in spec_sheet(found)]
    guessed = replace(FULL, parts=(PartSaid(code="engine", standing="original", basis="presumed", as_found="327 V8"),))
    assert "327 V8" not in [row.value for row in spec_sheet(guessed)]


def test_odometer_disclosure_is_recalled_only_where_it_is_due() -> None:
    old, young = FULL, replace(FULL, year=2015)
    assert not [line for line in reminders(old, today=date(2026, 3, 16)) if "disclosure" in line]
    assert [line for line in reminders(young, today=date(2026, 3, 16)) if "disclosure" in line]
