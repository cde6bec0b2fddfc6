"""What an arrival receipt says: no more than was seen and said."""

import pytest

from inventory.errors import Refused
from inventory.rules.receipts import MOST_LINES, check_lines, check_reading, odometer_question, odometer_told
from inventory.rules.words import OdometerStatus


@pytest.mark.parametrize(
    ("status", "said"),
    [
        ("not_stated", "Odometer shows 61,240 miles; status not stated"),
        ("actual", "Odometer shows 61,240 miles; stated to be the actual mileage; the lot has not verified it"),
        ("not_actual", "Odometer shows 61,240 miles; stated not to be the actual mileage: do not rely on it"),
        (
            "over_limit",
            "Odometer shows 61,240 miles; stated to be over the mechanical limit: the true mileage is more than it "
            "shows",
        ),
    ],
)
def test_reading_is_told_with_its_status(status: str, said: str) -> None:
    assert odometer_told(61240, reason="", status=status) == said


@pytest.mark.parametrize("status", OdometerStatus.values)
def test_every_status_has_its_words_also_without_a_reading(status: str) -> None:
    said = odometer_told(None, reason=" display dark ", status=status)
    assert said.startswith("No odometer reading, because: display dark; ")
    assert not said.endswith("; ")


def test_zero_miles_are_a_reading() -> None:
    check_reading(0, reason="")
    assert odometer_told(0, reason="", status="not_stated").startswith("Odometer shows 0 miles")


@pytest.mark.parametrize(
    ("mileage", "reason", "field"),
    [(None, " ", "mileage"), (5, "display dark", "no_reading_reason")],
)
def test_neither_or_both_is_refused(mileage: int | None, reason: str, field: str) -> None:
    with pytest.raises(Refused) as caught:
        check_reading(mileage, reason=reason)
    assert caught.value.field == field


@pytest.mark.parametrize(
    ("mileage", "status", "on_file", "status_on_file", "asked"),
    [
        (61240, "not_stated", 61240, "not_stated", ""),
        (None, "actual", 61240, "not_stated", ""),
        (61250, "not_stated", 61240, "not_stated", "The file says 61,240 miles, status not stated; here it is 61,250"),
        (61240, "not_actual", 61240, "not_stated", "here it is 61,240 miles, not actual."),
        (0, "not_stated", None, "not_stated", "The file says no reading"),
    ],
)
def test_difference_to_the_file_is_asked_about(
    mileage: int | None, status: str, on_file: int | None, status_on_file: str, asked: str
) -> None:
    question = odometer_question(mileage, status=status, on_file=on_file, status_on_file=status_on_file)
    assert asked in question
    assert bool(question) == bool(asked)


def test_as_many_lines_as_the_receipt_holds() -> None:
    check_lines([()] * MOST_LINES, field="damage")
    with pytest.raises(Refused) as caught:
        check_lines([()] * (MOST_LINES + 1), field="damage")
    assert (caught.value.field, caught.value.got) == ("damage", MOST_LINES + 1)
