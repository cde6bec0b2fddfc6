"""The first run through a file: what it shows about its own dates and years before any row is read."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field

from inventory.errors import Refused
from inventory.sheets.cells import shown, text_of
from inventory.sheets.columns import Matching
from inventory.sheets.dates import has_two_digit_year, order_shown
from inventory.sheets.figures import is_two_digit_year
from inventory.sheets.options import DateOrder, Options
from inventory.sheets.reading import Table

_MOST_EXAMPLES = 5
_LOW_SCALE = 10
_ENOUGH_SCORES = 5


@dataclass(slots=True)
class DateEvidence:
    """What the rows of one date column show; each reading keeps the first row that shows it."""

    first_mdy: tuple[int, str] | None = None
    first_dmy: tuple[int, str] | None = None
    either: int = 0
    either_examples: list[str] = field(default_factory=list)

    def note(self, text: str, *, row: int) -> None:
        reading = order_shown(text)
        if reading == "either":
            self.either += 1
            _keep(self.either_examples, text=text)
        elif reading == "mdy" and self.first_mdy is None:
            self.first_mdy = (row, text)
        elif reading == "dmy" and self.first_dmy is None:
            self.first_dmy = (row, text)

    def contradicts_itself(self) -> bool:
        return self.first_mdy is not None and self.first_dmy is not None

    def proved(self) -> DateOrder | None:
        if self.contradicts_itself():
            return None
        return "mdy" if self.first_mdy else "dmy" if self.first_dmy else None


@dataclass(slots=True)
class Survey:
    """Counts over the whole file."""

    rows: int = 0
    dates: dict[str, DateEvidence] = field(default_factory=dict)
    two_digit_years: int = 0
    two_digit_year_examples: list[str] = field(default_factory=list)
    two_digit_dates: int = 0
    two_digit_date_examples: list[str] = field(default_factory=list)
    scores: Counter[str] = field(default_factory=Counter)
    high_scores: Counter[str] = field(default_factory=Counter)

    def unsettled(self, options: Options) -> list[str]:
        """The date columns whose order the file does not settle and nobody gave."""
        if options.date_order is not None:
            return []
        return [
            column
            for column, seen in self.dates.items()
            if seen.contradicts_itself() or (seen.either and seen.proved() is None)
        ]

    def orders(self, options: Options) -> Mapping[str, DateOrder | None]:
        return {column: options.date_order or seen.proved() for column, seen in self.dates.items()}

    def low_scales(self) -> list[str]:
        """Score columns in which nothing is above ten: perhaps another scale than 0 to 100."""
        return [
            column for column, count in self.scores.items() if count >= _ENOUGH_SCORES and not self.high_scores[column]
        ]


def survey_table(table: Table, *, matching: Matching) -> Survey:
    """Run through all rows once. Raises Refused where the file itself cannot be read to its end."""
    places = matching.columns
    found = Survey(dates={column: DateEvidence() for column in matching.layout.dates if column in places})
    dated = [(places[column], seen) for column, seen in found.dates.items()]
    scored = [(places[column], column) for column in ("condition", "originality") if column in places]
    year = places.get("year")
    for number, cells in table.records():
        found.rows += 1
        for place, seen in dated:
            cell = cells[place] if place < len(cells) else None
            if isinstance(cell, str) and cell:
                _note_date(found, seen=seen, text=" ".join(cell.split()), row=number)
        if year is not None and year < len(cells) and is_two_digit_year(cells[year]):
            found.two_digit_years += 1
            _keep(found.two_digit_year_examples, text=text_of(cells[year]))
        for place, column in scored:
            if place < len(cells):
                _note_score(found, text=text_of(cells[place]), column=column)
    return found


def require_settled(survey: Survey, *, options: Options, matching: Matching) -> None:
    """Raise Refused for a date column whose order of day and month cannot be told."""
    for column in survey.unsettled(options):
        seen = survey.dates[column]
        raise Refused(
            "sheet.date_order",
            f"Column “{matching.header_of(column)}”: {why_unsettled(seen)}.",
            field=column,
            got=seen.either_examples,
            mend="Give --date-order mdy (month first) or --date-order dmy (day first).",
        )


def why_unsettled(seen: DateEvidence) -> str:
    """The sentence, without its full stop, that says why the order cannot be told."""
    if seen.first_mdy and seen.first_dmy:
        (mdy_row, mdy), (dmy_row, dmy) = seen.first_mdy, seen.first_dmy
        return (
            f"row {mdy_row} ({shown(mdy)}) can only be month first and row {dmy_row} ({shown(dmy)}) "
            f"only day first, so the order of the other dates is not known"
        )
    return f"{shown(seen.either_examples[0])} could be month first or day first, and no row shows which"


def _note_date(found: Survey, *, seen: DateEvidence, text: str, row: int) -> None:
    seen.note(text, row=row)
    if has_two_digit_year(text):
        found.two_digit_dates += 1
        _keep(found.two_digit_date_examples, text=text)


def _note_score(found: Survey, *, text: str, column: str) -> None:
    head = text.partition("-")[0].strip(" %")
    if head.replace(".", "", 1).isdigit() and head.isascii():
        found.scores[column] += 1
        found.high_scores[column] += float(head) > _LOW_SCALE


def _keep(examples: list[str], *, text: str) -> None:
    if len(examples) < _MOST_EXAMPLES and text not in examples:
        examples.append(text)
