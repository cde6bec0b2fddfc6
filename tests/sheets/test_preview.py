"""What the import page shows and asks before anything is read in."""

from pathlib import Path

import pytest

from inventory.errors import Refused
from inventory.sheets import Asked, Options, Preview, Row, preview
from tests.sheets.build import GOOD, TODAY, write_text, write_workbook


def look(path: Path, **options: object) -> Preview:
    return preview(path, name=path.name, options=Options(**options), today=TODAY)  # type: ignore[arg-type]


def test_clear_file_asks_nothing_and_shows_its_rows(tmp_path: Path) -> None:
    text = f"{','.join(GOOD)},mood\n{','.join(GOOD.values())},x\n"
    found = look(write_text(tmp_path, text=text))
    assert (found.questions, found.total, found.ignored) == ((), 1, ("mood",))
    assert ("price", "price") in found.matched
    assert found.rows == ((2, (*GOOD.values(), "x")),)
    assert [type(outcome) for outcome in found.outcomes] == [Row]


def test_only_the_first_rows_are_shown_and_all_are_counted(tmp_path: Path) -> None:
    rows = "".join(f"1962,C,M{number},2020-06-15,1\n" for number in range(50))
    found = look(write_text(tmp_path, text=f"year,make,model,ended_on,price\n{rows}"))
    assert (len(found.rows), len(found.outcomes), found.total) == (10, 10, 50)


def test_every_open_question_is_asked_at_once(tmp_path: Path) -> None:
    text = (
        "Yr,Make,Model,Date,Sale Date,Asking Price,sold for,sale price\n"
        "'69,C,M,,3/4/2021,1,2,2\n69,C,M,,5/6/2021,1,2,2\n1962,C,M,,5/6/21,1,2,2\n"
    )
    found = look(write_text(tmp_path, text=text))
    asked = {question.asked: question for question in found.questions}
    assert found.outcomes == ()
    assert [question.choices for question in found.questions if question.asked is Asked.COLUMN] == [
        ("sold for", "sale price"),
        ("arrived_on", "listed_on"),
        ("first_ask", "last_ask"),
    ]
    assert (asked[Asked.DATE_ORDER].about, asked[Asked.DATE_ORDER].count) == ("ended_on", 3)
    years = asked[Asked.TWO_DIGIT_YEARS]
    assert (years.count, years.examples, years.blocks) == (2, ("'69", "69"), False)
    assert (asked[Asked.TWO_DIGIT_DATES].count, asked[Asked.TWO_DIGIT_DATES].blocks) == (1, False)


def test_answers_close_their_questions(tmp_path: Path) -> None:
    text = "Yr,Make,Model,Date,Sale Date,sold for,sale price\n'69,C,M,,3/4/21,2,2\n"
    answers = {"columns": {"price": "sold for"}, "ignore": ("Date",), "date_order": "mdy"}
    found = look(write_text(tmp_path, text=text), **answers, two_digit_years=1900, two_digit_dates=2000)
    assert found.questions == ()
    assert [type(outcome) for outcome in found.outcomes] == [Row]


def test_missing_column_is_asked_among_the_unread_headers(tmp_path: Path) -> None:
    found = look(write_text(tmp_path, text="year,make,model,ended_on,took home\n1962,C,M,2020-06-15,9\n"))
    (question,) = found.questions
    assert (question.asked, question.about, question.choices) == (Asked.MISSING, "price", ("took home",))


def test_typed_dates_and_plain_years_ask_nothing(tmp_path: Path) -> None:
    path = write_workbook(tmp_path, rows=[list(GOOD), [1962, "C", "M", TODAY, 9]])
    assert look(path).questions == ()


def test_file_that_cannot_be_read_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refused):
        look(write_text(tmp_path, text=""))
