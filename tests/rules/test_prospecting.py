"""What an owner's word is worth before anybody has seen the vehicle. Expected figures by hand; no outside source."""

from decimal import Decimal
from typing import Any

import pytest

from inventory.errors import Refused, TooLate
from inventory.rules import prospecting as rules
from inventory.rules.prospecting import Told, told_interval, told_span
from inventory.rules.scores import Interval

TOLD = Told(
    condition=Interval(Decimal(80), Decimal(80)), originality=None, mileage=61240, odometer_status="actual",
    build_class="", modifications_told=False, sales_of_make=9, sales_of_model=2, make="Merrow", model="Alder",
)  # fmt: skip


def test_told_condition_reaches_down_and_never_up() -> None:
    assert told_interval(Interval(Decimal(80), Decimal(80))) == Interval(Decimal(50), Decimal(80))
    assert told_interval(Interval(Decimal(20), Decimal(95))) == Interval(Decimal(0), Decimal(95))
    assert told_interval(None) is None


@pytest.mark.parametrize(
    ("low", "high", "span"), [("70", None, "70"), (None, "85", "85"), ("70", "85", "70 to 85"), (None, None, "")]
)
def test_one_figure_told_is_both_ends(low: str | None, high: str | None, span: str) -> None:
    found = told_span(low and Decimal(low), high=high and Decimal(high), field="condition")  # type: ignore[arg-type]
    assert (rules.span_words(found) if found else "") == span


@pytest.mark.parametrize(
    ("low", "high", "field"),
    [("85", "70", "condition_high"), ("101", None, "condition_low"), ("5", "-1", "condition_high")],
)
def test_span_that_cannot_be_names_its_field(low: str, high: Any, field: str) -> None:
    with pytest.raises(Refused) as caught:
        told_span(Decimal(low), high=high and Decimal(high), field="condition")
    assert caught.value.field == field


def test_modifications_told_are_kinds_with_their_fitting() -> None:
    made = rules.told_modifications(["brakes", "engine"], cut=["engine"], none_made=False)
    assert made == [["brakes", "bolt_on"], ["engine", "cut_or_welded"]]
    assert rules.told_modifications([], cut=[], none_made=True) == []
    assert rules.told_modifications([], cut=[], none_made=False) is None


@pytest.mark.parametrize(("kinds", "cut", "none_made"), [(["brakes"], [], True), (["brakes"], ["engine"], False)])
def test_modifications_that_contradict_each_other_are_refused(kinds: Any, cut: Any, none_made: bool) -> None:
    with pytest.raises(Refused):
        rules.told_modifications(kinds, cut=cut, none_made=none_made)


def test_reasons_for_width_say_what_is_told_only_and_what_is_few() -> None:
    said = " ".join(rules.why_wide(TOLD))
    assert "Condition is told only, as 80: owners over-value, so it is taken as anything from 50 to 80" in said
    assert "Originality is not told: it may be anything." in said
    assert "odometer reading is right is not established" in said
    assert "Few past sales of the model: 2 of Merrow Alder." in said


def test_actual_by_word_alone_is_not_stated() -> None:
    assert rules.told_odometer("actual") == "not_stated"
    assert rules.told_odometer("not_actual") == "not_actual"


def test_number_as_told_is_questioned_and_stops_nothing() -> None:
    questions = rules.serial_questions("1M8GDM9A_KP042788".replace("_", "0"), year=1989)  # 49 CFR 565: check digit X
    assert "check digit" in questions[0]
    assert rules.serial_questions("", year=1968) == ("No number is told.",)


def test_nothing_is_done_to_a_prospect_that_ended() -> None:
    rules.require_open("offered", what="1968 Merrow Alder")
    with pytest.raises(TooLate, match=r"is booked: nothing changes.*vehicle file"):
        rules.require_open("booked", what="1968 Merrow Alder")
