"""What an odometer reading says beside those of the vehicle's other stays, and whether it must be disclosed."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from inventory.rules import odometer
from inventory.rules.plausibility import mileage_fell
from inventory.rules.questions import Meaning, Question, Said, asked
from inventory.rules.words import OdometerStatus

WHERE = "Odometer"
STATEMENT, EXEMPTION = "49 CFR 580.5", "49 CFR 580.17(a)"


@dataclass(frozen=True)
class Reading:
    """One reading with the day and the stay it belongs to; `is_later` than the one it is held against."""

    mileage_mi: int
    on: date
    stock_number: str
    is_later: bool = False


def read_odometer(
    mileage_mi: int | None, *, on: date, status: str, model_year: int, today: date, others: Sequence[Reading]
) -> Said:
    """The reading of one stay, taken on a day, beside the readings of the others."""
    free = odometer.exemption(model_year, sold_on=today)
    meanings = [
        Meaning("status", odometer.MEANINGS[status]),
        Meaning("exemption", f"A sale today: {free.why[:1].lower()}{free.why[1:]} ({EXEMPTION})"),
    ]
    meanings += [
        Meaning("others", f"{other.mileage_mi:,} miles on {other.on}, as {other.stock_number}.") for other in others
    ]
    if mileage_mi is None:
        return Said(tuple(meanings))
    questions: list[Question] = []
    for other in others:
        questions += _against(other, mileage_mi=mileage_mi, on=on)
    before = [other.mileage_mi for other in others if not other.is_later]
    contradicted = odometer.question_status(
        OdometerStatus(status), reading_mi=mileage_mi, earlier_mi=max(before, default=None), exempt=free.exempt
    )
    questions += asked(contradicted, where=f"{WHERE}, status", section=STATEMENT)
    return Said(tuple(meanings), tuple(questions))


_SIX_DIGITS_FROM, _SEVEN_DIGITS_FROM = odometer.turns_at(5), odometer.turns_at(6)


def _against(other: Reading, *, mileage_mi: int, on: date) -> list[Question]:
    """Whichever came later should not be lower; if it is, what it would mean if the odometer turned over."""
    if other.is_later:
        found = mileage_fell(other.mileage_mi, earlier_mi=mileage_mi, earlier_on=on)
        return asked(found, where=f"{WHERE}, {other.stock_number}", section=STATEMENT)
    highest = max(mileage_mi, other.mileage_mi)
    if highest >= _SEVEN_DIGITS_FROM:
        return asked(
            mileage_fell(mileage_mi, earlier_mi=other.mileage_mi, earlier_on=other.on), where=WHERE, section=STATEMENT
        )
    digits = 5 if highest < _SIX_DIGITS_FROM else 6
    found = odometer.question_turned_over(
        mileage_mi, earlier_mi=other.mileage_mi, earlier_on=other.on, digits=digits
    )  # fmt: skip
    return asked(found, where=WHERE, section=STATEMENT)
