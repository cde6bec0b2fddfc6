"""The words of the papers: none stronger than its basis, none left blank."""

from datetime import date
from decimal import Decimal

import pytest

from inventory.rules import paper_words
from inventory.rules.words import Basis


@pytest.mark.parametrize(
    ("basis", "told"),
    [
        ("measured", "402 V8 (measured)"), ("seen", "402 V8 (seen)"), ("documented", "402 V8, per its papers"),
        ("told", "the owner reports: 402 V8"), ("presumed", "believed to be: 402 V8"),
        ("not_established", "not established"), ("", "not established"),
    ],
)  # fmt: skip
def test_text_is_worded_by_its_basis(basis: str, told: str) -> None:
    assert paper_words.based("402 V8", basis=basis) == told


def test_every_basis_has_words_of_its_own() -> None:
    told = {paper_words.based("blue", basis=basis) for basis in Basis.values}
    assert len(told) == len(Basis.values)


def test_identity_of_an_engine_is_never_claimed_on_a_guess() -> None:
    given = {"standing": "original", "as_found": "402 V8", "basis": "presumed"}
    assert paper_words.component_told("engine", **given) == "not established"
    assert paper_words.component_told("top", **given) == "believed to be: 402 V8, original"
    assert paper_words.component_told("engine", **{**given, "basis": "told"}) == "the owner reports: 402 V8, original"


def test_component_that_was_never_there_and_one_without_standing() -> None:
    given = {"standing": "not_established", "as_found": "", "basis": "seen"}
    assert paper_words.component_told("top", **given, not_fitted=True) == "never had one (seen)"
    assert paper_words.component_told("top", **given) == "not established"


def test_check_that_nobody_saw_is_no_pass() -> None:
    assert paper_words.found_said(verdict="not_seen", grade=None, basis="") == "NOT SEEN"
    assert paper_words.found_said(verdict="deleted", grade=None, basis="seen") == "Deleted on purpose"
    assert paper_words.found_said(verdict="graded", grade=1, basis="seen") == "1, needs repair (seen)"


def test_odometer_says_its_status_and_nothing_without_a_reading() -> None:
    assert "No status is stated" in paper_words.odometer_said(61240, status="not_stated")
    assert "not the true mileage" in paper_words.odometer_said(61240, status="not_actual")
    assert paper_words.odometer_said(None, status="actual") == "No reading is recorded."


def test_title_brand_says_whether_a_paper_was_read() -> None:
    assert paper_words.title_said("clean", read_on=None).endswith("No paper of ownership has been read yet.")
    assert paper_words.title_said("", read_on=date(2026, 3, 1)).startswith("Not known to the lot. A paper")


def test_serial_names_every_place_it_was_read_at_and_what_differs() -> None:
    numbers = [("title", "8A1", "documented", "documented"), ("frame stamp", "8A7", "seen", "seen")]
    said = paper_words.serial_said("8A1", kind="earlier serial", numbers=numbers)
    assert said == "8A1 (earlier serial); read on: title (documented). frame stamp says 8A7"
    assert "not read off the vehicle yet" in paper_words.serial_said("8A1", kind="earlier serial", numbers=[])
    assert paper_words.serial_said("", kind="none seen", numbers=[]) == "None seen."


def test_sum_of_a_statement_says_who_owes_it() -> None:
    assert paper_words.due_told(Decimal("10.00")) == ("Due to the consignor", "$10.00")
    assert paper_words.due_told(Decimal("-10.00")) == ("Due from the consignor", "$10.00")
    assert paper_words.due_told(Decimal("-10.00"), is_reversal=True) == ("Sum taken back", "−$10.00")


def test_interval_without_ends_is_not_established() -> None:
    assert paper_words.interval_said(None, high=None) == "not established"
    assert paper_words.interval_said(Decimal(40), high=Decimal(40)).startswith("40 of 100")
    assert paper_words.interval_said(Decimal("38.3"), high=Decimal(67)).startswith("from 38.3 to 67 of 100")


def test_modification_is_told_plainly_with_its_basis() -> None:
    said = paper_words.modification_said(
        "disc brakes", where="front", fitting="bolt_on", workmanship=None, basis="told", papers=True
    )
    assert said == "The owner reports: disc brakes, front, bolt-on, workmanship not judged, papers seen"


def test_flag_cites_its_section_once() -> None:
    assert paper_words.flag_said("Tread", message="too low.", section="570.9(a)") == "Tread: too low. (570.9(a))"
    assert paper_words.flag_said("Tread", message="too low, 570.9(a).", section="570.9(a)").count("570.9(a)") == 1
