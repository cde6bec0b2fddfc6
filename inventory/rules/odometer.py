"""What an odometer reading is worth: the statuses, when a transfer must disclose it, and five digits turning over.

Source: 49 CFR Part 580, 580.5 (the statement and its statuses), 580.17(a) (exemptions). The words are the house's
own, not the form's. The exemption is from the duty to disclose, not from honesty; states may ask more.
"""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from inventory.errors import Refused
from inventory.rules.identity import FIRST_YEAR
from inventory.rules.plausibility import Question, mileage_fell, odometer_exempt
from inventory.rules.words import OdometerStatus

UNSTATED = OdometerStatus.NOT_STATED
"""The status until somebody states one: never *actual* by itself."""

MEANINGS: dict[str, str] = {
    OdometerStatus.ACTUAL: "To the best of the seller's knowledge the reading is the true mileage.",
    OdometerStatus.OVER_LIMIT: "The odometer has passed its mechanical limit: the true mileage is the reading and an "
    "unknown number of full turns.",
    OdometerStatus.NOT_ACTUAL: "Warning of a discrepancy: the reading is not the true mileage; do not rely on it.",
    OdometerStatus.NOT_STATED: "No status is stated for the reading.",
}

STATEMENT_PARTS = (
    "reading",
    "date",
    "seller's name",
    "seller's address",
    "buyer's name",
    "buyer's address",
    "make",
    "model",
    "year",
    "body",
    "VIN",
)
"""What the written statement holds, signed and with the printed name: 580.5(c)."""

EXEMPT_ABOVE_LB = 16_000
LOCAL_LAW = "States may ask more: check local law."


@dataclass(frozen=True)
class Exemption:
    """Whether a transfer is free of the disclosure, in a sentence, and from when the model year alone frees it."""

    exempt: bool
    why: str
    free_from: date


def exempt_from(model_year: int) -> date:
    """The first day on which the model year alone frees a transfer: 10 or 20 years after its 1 January.

    580.17(a): 10 years up to model year 2010, 20 from model year 2011.
    """
    if not FIRST_YEAR <= model_year <= 9000:
        raise Refused(
            "year_impossible",
            f"A model year of {model_year} is not possible.",
            field="model_year",
            got=model_year,
            mend=f"Give a year from {FIRST_YEAR} on, with four digits.",
        )
    return next(
        day
        for day in (date(model_year + years, 1, 1) for years in (10, 20))
        if odometer_exempt(model_year, on=day)
    )  # fmt: skip


def exemption(model_year: int, *, sold_on: date, gvwr_lb: int | None = None, self_propelled: bool = True) -> Exemption:
    """Whether a sale on that day is exempt: 580.17(a). A weight that is not known frees nothing.

    The exemption of a maker's sale to a federal agency is left out; it is no lot's.
    """
    free_from = exempt_from(model_year)
    if not self_propelled:
        return Exemption(True, f"Exempt: it is not self-propelled. {LOCAL_LAW}", free_from)
    if gvwr_lb is not None and gvwr_lb > EXEMPT_ABOVE_LB:
        why = f"Exempt: {gvwr_lb:,} lb GVWR is over {EXEMPT_ABOVE_LB:,} lb. {LOCAL_LAW}"
        return Exemption(True, why, free_from)
    if odometer_exempt(model_year, on=sold_on):
        why = f"Exempt: model year {model_year} is free of the disclosure since {free_from}. {LOCAL_LAW}"
        return Exemption(True, why, free_from)
    why = f"To be disclosed: model year {model_year} is exempt only from {free_from}. {LOCAL_LAW}"
    return Exemption(False, why, free_from)


def whole_miles(reading: Decimal | int) -> int:
    """The reading as the statement gives it: whole miles, no tenths (580.5(c)); Refused if it has any."""
    if (isinstance(reading, Decimal) and not reading.is_finite()) or reading < 0 or reading != int(reading):
        raise Refused(
            "odometer_reading",
            f"{reading} is not a reading in whole miles.",
            field="reading",
            got=reading,
            mend="Give the miles without tenths, zero or more.",
        )
    return int(reading)


def missing_parts(given: Collection[str]) -> tuple[str, ...]:
    """What a statement still lacks, in the order of `STATEMENT_PARTS`."""
    return tuple(part for part in STATEMENT_PARTS if part not in given)


_TURNS = {5: 100_000, 6: 1_000_000}


def turns_at(digits: int) -> int:
    """The miles at which an odometer with so many whole-mile digits starts again: 100,000 for five."""
    if digits not in _TURNS:
        raise Refused(
            "odometer_digits",
            f"An odometer with {digits} digits of whole miles is not known.",
            field="digits",
            got=digits,
            mend="Count the digits without the tenth: 5 or 6.",
        )
    return _TURNS[digits]


def least_mileage(reading_mi: int, *, earlier_mi: int, digits: int = 5) -> int:
    """The lowest true mileage that the reading can stand for after an earlier true one: reading + whole turns.

    No more than a lower bound: it may have turned over more often. The turns are the fewest that reach the earlier.
    """
    _check_digits(reading_mi, digits=digits)
    turn = turns_at(digits)
    turns = max(0, -((reading_mi - earlier_mi) // turn))
    return reading_mi + turns * turn


def _check_digits(reading_mi: int, *, digits: int) -> None:
    if whole_miles(reading_mi) >= turns_at(digits):
        raise Refused(
            "odometer_digits",
            f"{reading_mi:,} does not fit an odometer of {digits} digits, which ends at {turns_at(digits) - 1:,}.",
            field="reading",
            got=reading_mi,
            mend="Count its digits again; the last one may be tenths.",
        )


def question_turned_over(reading_mi: int, *, earlier_mi: int, earlier_on: date, digits: int = 5) -> Question | None:
    """A reading below an earlier one, with what it would mean if the odometer turned over since."""
    _check_digits(reading_mi, digits=digits)
    fell = mileage_fell(reading_mi, earlier_mi=earlier_mi, earlier_on=earlier_on)
    if fell is None:
        return None
    least = least_mileage(reading_mi, earlier_mi=earlier_mi, digits=digits)
    message = f"{fell.message} If it turned over at {turns_at(digits) - 1:,}, it has run {least:,} miles or more."
    return Question(fell.code, message, fell.mend)


def question_status(
    status: OdometerStatus, *, reading_mi: int, earlier_mi: int | None = None, exempt: bool
) -> Question | None:
    """A status that the known facts contradict: *actual* below an earlier reading, none where one is due."""
    if status == OdometerStatus.ACTUAL and earlier_mi is not None and reading_mi < earlier_mi:
        return Question(
            "odometer_not_actual",
            f"The status is “{status.label}”, but {reading_mi:,} miles is below an earlier {earlier_mi:,}.",
            "If the seller has good reason to doubt the reading, the statement must say so: choose "
            f"“{OdometerStatus.OVER_LIMIT.label}” or “{OdometerStatus.NOT_ACTUAL.label}”.",
        )
    if status == OdometerStatus.NOT_STATED and not exempt:
        return Question(
            "odometer_unstated",
            f"No status is stated for {reading_mi:,} miles, and the sale is not exempt from the disclosure.",
            f"Have the seller state it in writing. {LOCAL_LAW}",
        )
    return None
