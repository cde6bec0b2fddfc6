"""Money, years, mileage and scores as people write them."""

from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.sheets import parse_century
from inventory.sheets.figures import read_mileage, read_money, read_score, read_year
from tests.sheets.build import bad, good, outcome_of


def money(cell: object, **changes: str) -> Decimal | None:
    settings = {"decimal_mark": ".", "currency": "USD", **changes}
    return read_money(cell, field="price", **settings)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "amount"),
    [
        *(("$21,500", "21500"), ("21500.00", "21500"), ("USD 15,250.50", "15250.50"), ("  $ 9 800 ", "9800")),
        *(("1,234,567.89", "1234567.89"), ("n/a", None), ("-", None), ("", None), ("unknown", None)),
    ],
)
def test_money_is_exact(*, text: str, amount: str | None) -> None:
    assert money(text) == (None if amount is None else Decimal(amount))


@pytest.mark.parametrize("text", ["-$5,000", "(500)", "0", "$0.00", "100000000.01", "12.345", "€500", "call", "12k"])
def test_money_that_cannot_be_a_price_is_refused(text: str) -> None:
    with pytest.raises(Refused):
        money(text)


def test_money_with_decimal_commas_is_read_when_told() -> None:
    assert money("12.500,75", decimal_mark=",") == Decimal("12500.75")
    assert money(12500.75, decimal_mark=",") == Decimal("12500.75")


@given(st.decimals(min_value="0.01", max_value="100000000", places=2))
def test_typed_and_written_money_agree(amount: Decimal) -> None:
    assert money(float(amount)) == amount == money(f"${amount:,.2f}")


@pytest.mark.parametrize("text", ["'69", "69", "’69", " 69 "])
def test_two_digit_year_is_read_only_in_the_century_given(text: str) -> None:
    assert read_year(text, field="year", century=1900, latest=2028) == 1969
    with pytest.raises(Refused, match="--two-digit-years 19xx"):
        read_year(text, field="year", century=None, latest=2028)


@pytest.mark.parametrize(
    ("text", "year"), [("1969", 1969), ("1969.0", 1969), (1969.0, 1969), ("1886", 1886), ("2028", 2028)]
)
def test_year_is_read(*, text: str | float, year: int) -> None:
    assert read_year(text, field="year", century=None, latest=2028) == year


@pytest.mark.parametrize("text", ["1885", "2029", "1969-70", "c1969", "1969.5", "19690", "969", True])
def test_year_that_cannot_be_is_refused(text: str) -> None:
    with pytest.raises(Refused):
        read_year(text, field="year", century=1900, latest=2028)


@pytest.mark.parametrize(
    ("text", "miles"),
    [
        *(("45,210", 45210), ("45210", 45210), ("45k", 45000), ("45.2K mi", 45200), ("45,210 miles", 45210)),
        *(("0", 0), ("12 mi.", 12), (45210.0, 45210), ("100 km", 62), ("72,000 km", 44739), ("45 210", 45210)),
    ],
)
def test_mileage_is_read_in_miles(*, text: str | float, miles: int) -> None:
    assert read_mileage(text, field="mileage", in_km=False, decimal_mark=".").miles == miles


@given(st.integers(min_value=0, max_value=3_000_000))
def test_kilometres_become_miles_by_the_definition_of_the_mile(km: int) -> None:
    # 1 mile = 1.609344 km exactly; the factor to six figures is off by less than 0.2 miles in 3,000,000 km.
    found = read_mileage(f"{km:,}", field="mileage", in_km=True, decimal_mark=".")
    assert found.miles == pytest.approx(km / 1.609344, abs=0.5 + 1.5)
    assert "kilometres" in found.note


@pytest.mark.parametrize(
    ("text", "miles", "status"),
    [
        *(
            ("TMU", None, "not_actual"),
            ("true mileage unknown", None, "not_actual"),
            ("45,210 TMU", 45210, "not_actual"),
        ),
        *(("unknown", None, "not_stated"), ("Exempt", None, "not_stated"), ("", None, None), ("n/a", None, None)),
        *(("99,999 (exceeds mechanical limits)", 99999, "over_limit"), ("45,210 actual", 45210, "actual")),
    ],
)
def test_mileage_cell_may_state_its_status(*, text: str, miles: int | None, status: str | None) -> None:
    found = read_mileage(text, field="mileage", in_km=False, decimal_mark=".")
    assert (found.miles, found.status) == (miles, status)


@pytest.mark.parametrize("text", ["-1", "2,000,001", "45.210", "45,21", "lots", "45k km2", "12 parsecs", "1e5"])
def test_mileage_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(Refused):
        read_mileage(text, field="mileage", in_km=False, decimal_mark=".")


def test_mileage_with_decimal_comma_is_read_when_told() -> None:
    assert read_mileage("45.210", field="mileage", in_km=False, decimal_mark=",").miles == 45210


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("75", 75, 75),
        ("70-80", 70, 80),
        ("70 – 80 %", 70, 80),
        ("0", 0, 0),
        ("100", 100, 100),
        (72.5, 72.5, 72.5),
        ("70 to 80", 70, 80),
    ],
)
def test_score_is_an_interval(*, text: str | float, low: float, high: float) -> None:
    found = read_score(text, field="condition")
    assert (found.low, found.high, found.note) == (Decimal(str(low)), Decimal(str(high)), "")


def test_score_finer_than_a_tenth_is_rounded_and_noted() -> None:
    found = read_score("72.25", field="condition")
    assert (found.low, found.high) == (Decimal("72.3"), Decimal("72.3"))
    assert "rounded to 72.3" in found.note


@pytest.mark.parametrize("text", ["101", "-5", "80-70", "good", "8/10", "70-80-90", "nan%"])
def test_score_off_the_scale_is_refused(text: str) -> None:
    with pytest.raises(Refused):
        read_score(text, field="condition")


@pytest.mark.parametrize(
    ("mileage", "status", "expected"),
    [
        *(("45210", "", "not_stated"), ("45210", "actual", "actual"), ("TMU", "", "not_actual")),
        *(("TMU", "exempt", "not_actual"), ("unknown", "TMU", "not_actual"), ("", "actual", "actual")),
        *(("", "", "not_stated"), ("TMU", "not actual", "not_actual"), ("exempt", "exempt", "not_stated")),
    ],
)
def test_odometer_status_is_actual_only_where_written(
    tmp_path: Path, *, mileage: str, status: str, expected: str
) -> None:
    found = outcome_of(tmp_path, cells={"mileage": mileage, "odometer_status": status})
    assert good(found).sale.odometer_status == expected


@pytest.mark.parametrize(("mileage", "status"), [("TMU", "actual"), ("unknown", "actual"), ("over limit", "TMU")])
def test_odometer_status_that_contradicts_the_mileage_is_rejected(tmp_path: Path, *, mileage: str, status: str) -> None:
    found = outcome_of(tmp_path, cells={"mileage": mileage, "odometer_status": status})
    assert bad(found).column == "odometer_status"


@pytest.mark.parametrize(("text", "century"), [("19xx", 1900), (" 20XX ", 2000), ("18xx", 1800)])
def test_century_is_read(*, text: str, century: int) -> None:
    assert parse_century(text) == century


@pytest.mark.parametrize("text", ["19", "1900", "xx", "21xx", ""])
def test_century_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(Refused):
        parse_century(text)
