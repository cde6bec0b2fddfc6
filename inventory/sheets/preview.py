"""What the import page shows before anything is read in: columns found, questions, the first rows."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from itertools import islice
from pathlib import Path
from typing import Any

from inventory.sheets.cells import text_of
from inventory.sheets.columns import Matching, match_columns
from inventory.sheets.kinds import PAST_SALES, Kind
from inventory.sheets.layouts import Layout
from inventory.sheets.options import Options
from inventory.sheets.reading import Table, open_table
from inventory.sheets.rows import Outcome, SheetFile, file_warnings
from inventory.sheets.survey import Survey, survey_table, why_unsettled


class Asked(StrEnum):
    """What a question is about, and so how it is answered in `Options`."""

    COLUMN = "column"  # columns[choice] = a header, or the header in ignore
    MISSING = "missing"  # columns[about] = a choice
    DATE_ORDER = "date_order"  # date_order = a choice
    TWO_DIGIT_YEARS = "two_digit_years"  # two_digit_years = a choice, once for the file
    TWO_DIGIT_DATES = "two_digit_dates"  # two_digit_dates = a choice, once for the file


@dataclass(frozen=True, slots=True)
class Question:
    """One thing the file leaves open. Without an answer a blocking one refuses the file, another its rows."""

    asked: Asked
    about: str
    text: str
    choices: tuple[str, ...]
    examples: tuple[str, ...] = ()
    count: int = 0
    blocks: bool = True


@dataclass(frozen=True, slots=True)
class Preview:
    """A first look at a file."""

    described: str
    total: int
    headers: tuple[str, ...]
    matched: tuple[tuple[str, str], ...]
    """Canonical column and header, in canonical order."""
    ignored: tuple[str, ...]
    questions: tuple[Question, ...]
    warnings: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    """The first rows as they stand in the file, with their numbers."""
    outcomes: tuple[Outcome[Any], ...]
    """The same rows as they would be read; empty while a blocking question is open."""
    layout: Layout


def preview(
    path: Path, *, name: str, options: Options, today: date, rows: int = 10, kind: Kind[Any] = PAST_SALES
) -> Preview:
    """Look at a file without importing it. Raises Refused only where the file itself cannot be read."""
    options = kind.answered(options)
    table = open_table(path, name=name, options=options)
    matching = match_columns(table.headers, chosen=options.columns, ignore=options.ignore, layout=kind.layout)
    survey = survey_table(table, matching=matching)
    warnings = file_warnings(table, matching=matching, survey=survey)
    questions = (
        *_about_columns(matching),
        *_about_order(survey, matching=matching, options=options),
        *_about_centuries(survey, options=options),
    )
    source = SheetFile(kind, table, matching, survey, options, today, warnings)
    outcomes = () if any(question.blocks for question in questions) else tuple(islice(source, rows))
    return Preview(
        described=table.described,
        total=survey.rows,
        headers=matching.headers,
        matched=tuple(
            (column, matching.header_of(column)) for column in kind.layout.columns if column in matching.columns
        ),
        ignored=matching.ignored,
        questions=questions,
        warnings=warnings,
        rows=_first_rows(table, count=rows),
        outcomes=outcomes,
        layout=kind.layout,
    )


def _first_rows(table: Table, *, count: int) -> tuple[tuple[int, tuple[str, ...]], ...]:
    return tuple((number, tuple(map(text_of, cells))) for number, cells in islice(table.records(), count))


def _about_columns(matching: Matching) -> list[Question]:
    unclear = [
        Question(Asked.COLUMN, item.headers[0], f"{item}. Which is it?", _ways(item.headers, columns=item.columns))
        for item in matching.unclear
    ]
    missing = [
        Question(Asked.MISSING, column, f"Which column holds the {column.replace('_', ' ')}?", matching.ignored)
        for column in matching.missing
    ]
    return unclear + missing


def _ways(headers: Sequence[str], *, columns: Sequence[str]) -> tuple[str, ...]:
    """What can be chosen: the column for a single header, the header for a single column."""
    return tuple(columns) if len(headers) == 1 else tuple(headers)


def _about_order(survey: Survey, *, matching: Matching, options: Options) -> list[Question]:
    return [
        Question(
            Asked.DATE_ORDER,
            column,
            f"“{matching.header_of(column)}”: {why_unsettled(survey.dates[column])}. Which order is it?",
            ("mdy", "dmy"),
            tuple(survey.dates[column].either_examples),
            survey.dates[column].either,
        )
        for column in survey.unsettled(options)
    ]


def _about_centuries(survey: Survey, *, options: Options) -> list[Question]:
    found = []
    if survey.two_digit_years and options.two_digit_years is None:
        text = "Model years have two figures. Which century do they mean?"
        examples, count = tuple(survey.two_digit_year_examples), survey.two_digit_years
        found.append(Question(Asked.TWO_DIGIT_YEARS, "year", text, ("19xx", "20xx"), examples, count, blocks=False))
    if survey.two_digit_dates and options.two_digit_dates is None:
        text = "Dates have years of two figures. Which century do they mean?"
        examples, count = tuple(survey.two_digit_date_examples), survey.two_digit_dates
        found.append(
            Question(
                Asked.TWO_DIGIT_DATES, options.layout.dates[-1], text, ("19xx", "20xx"), examples, count, blocks=False
            )
        )
    return found
