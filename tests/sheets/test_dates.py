"""Dates in every form, and the order of day and month that is proved or told but never guessed."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.sheets import Outcome, Reject, save_rejects
from inventory.sheets.dates import has_two_digit_year, order_shown, read_date
from tests.sheets.build import bad, good, open_sales, outcomes, write_text


def dated(folder: Path, *, days: Sequence[str], **options: object) -> list[Outcome]:
    rows = "".join(f'1962,C,M{number},"{day}",1\n' for number, day in enumerate(days))
    return outcomes(write_text(folder, text=f"year,make,model,Sale Date,price\n{rows}"), **options)


@pytest.mark.parametrize(
    "text",
    [
        *("2021-03-04", "2021/3/4", "2021.03.04", "2021-03-04T10:30:00Z", "2021-03-04 00:00:00"),
        *("March 4, 2021", "march 4 2021", "Mar 4, 2021", "Mar. 4, 2021", "4 Mar 2021", "4 March, 2021"),
        *("4-Mar-2021", "Thursday, March 4th, 2021", "Thu 4 Mar 2021", "04-MAR-2021"),
    ],
)
def test_unmistakable_forms_need_no_order(text: str) -> None:
    assert read_date(text, field="ended_on", order=None, century=None) == date(2021, 3, 4)


@pytest.mark.parametrize("text", ["3/4/2021", "03/04/2021", "3-4-2021", "3.4.2021", "3/4/2021 12:00 AM"])
def test_figures_are_read_in_the_order_given(text: str) -> None:
    assert read_date(text, field="f", order="mdy", century=None) == date(2021, 3, 4)
    assert read_date(text, field="f", order="dmy", century=None) == date(2021, 4, 3)
    with pytest.raises(Refused, match="--date-order"):
        read_date(text, field="f", order=None, century=None)


@pytest.mark.parametrize("text", ["Mar-21", "March 2021", "3/2021", "2021-03", "2021"])
def test_date_without_a_day_is_refused(text: str) -> None:
    with pytest.raises(Refused, match="no day"):
        read_date(text, field="f", order="mdy", century=2000)


@pytest.mark.parametrize(
    "text",
    ["2021-02-29", "2/30/2021", "Smarch 4, 2021", "0000-00-00", "soon", "44259", "13/13/2021", "1/2/03/4", "٣/٤/٢٠٢١"],
)
def test_no_date_is_refused(text: str) -> None:
    with pytest.raises(Refused):
        read_date(text, field="f", order="mdy", century=2000)


@pytest.mark.parametrize("text", ["3/14/21", "14 Mar 21", "March 14, '21", "14-Mar-21"])
def test_two_digit_year_needs_its_century(text: str) -> None:
    assert has_two_digit_year(text)
    assert read_date(text, field="f", order="mdy", century=2000) == date(2021, 3, 14)
    with pytest.raises(Refused, match="--two-digit-dates"):
        read_date(text, field="f", order="mdy", century=None)


@given(st.dates(min_value=date(1000, 1, 1)), st.sampled_from(["%m/%d/%Y", "%d.%m.%Y"]))
def test_order_shown_never_contradicts_the_writer(day: date, form: str) -> None:
    order = "mdy" if form.startswith("%m") else "dmy"
    shown = order_shown(day.strftime(form))
    if day.day > 12:
        assert shown == order
    else:
        assert shown == (None if day.day == day.month else "either")
    assert read_date(day.strftime(form), field="f", order=order, century=None) == day  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("days", "first"),
    [
        (["3/4/2021", "3/14/2021"], date(2021, 3, 4)),
        (["3/4/2021", "14/3/2021"], date(2021, 4, 3)),
        (["3.4.2021", "31.12.2020"], date(2021, 4, 3)),
        (["3/3/2021", "4/4/2021"], date(2021, 3, 3)),
    ],
)
def test_row_that_proves_the_order_settles_its_column(tmp_path: Path, *, days: list[str], first: date) -> None:
    assert good(dated(tmp_path, days=days)[0]).sale.ended_on == first


@pytest.mark.parametrize("proof", ["2/30/2021", "2021-03-14", "March 14, 2021", "13/13/2021"])
def test_column_without_proof_is_refused(tmp_path: Path, *, proof: str) -> None:
    with pytest.raises(Refused, match=r"“Sale Date”.*no row shows which.*--date-order"):
        dated(tmp_path, days=["3/4/2021", proof])


def test_column_without_proof_is_read_in_the_order_given(tmp_path: Path) -> None:
    assert good(dated(tmp_path, days=["3/4/2021"], date_order="dmy")[0]).sale.ended_on == date(2021, 4, 3)


def test_proof_in_another_column_proves_nothing(tmp_path: Path) -> None:
    text = "year,make,model,arrived,sale date,price\n1962,C,M,1/2/2020,3/14/2021,1\n"
    with pytest.raises(Refused, match="“arrived”"):
        outcomes(write_text(tmp_path, text=text))


def test_rows_that_prove_both_orders_are_named(tmp_path: Path) -> None:
    with pytest.raises(Refused, match=r"row 3 .*month first.*row 4 .*day first"):
        dated(tmp_path, days=["3/4/2021", "3/14/2021", "14/3/2021"])


def test_row_against_the_order_given_is_rejected_alone(tmp_path: Path) -> None:
    found = dated(tmp_path, days=["3/4/2021", "3/14/2021", "14/3/2021"], date_order="mdy")
    assert "month/day/year" in bad(found[2]).reason
    assert good(found[1]).sale.ended_on == date(2021, 3, 14)


def test_reject_travels_without_its_proof_and_keeps_its_day(tmp_path: Path) -> None:
    text = "year,make,model,sale date,price\n1962,C,M,3/14/2021,1\n1962,C,M,3/4/2021,x\n"
    source = open_sales(write_text(tmp_path, text=text))
    rejects = [outcome for outcome in source if isinstance(outcome, Reject)]
    save_rejects(tmp_path / "rejects.csv", rejects=rejects, source=source)
    mended = (tmp_path / "rejects.csv").read_text(encoding="utf-8-sig").replace(",x,", ",9,")
    (again,) = outcomes(write_text(tmp_path, text=mended))
    assert good(again).sale.ended_on == date(2021, 3, 4)
