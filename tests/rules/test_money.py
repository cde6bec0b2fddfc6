"""Money against the worked figures of the standards, and against exact fractions."""

from decimal import ROUND_HALF_UP, Decimal, getcontext, localcontext
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.rules import money

cents = st.integers(-(10**12) + 1, 10**12 - 1).map(lambda n: Decimal(n).scaleb(-2))


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        # 12.5 % of 41,333.00 and 10 % of 25,000.05, worked by hand; half-even would give ….62 and ….00.
        ("5166.625", "5166.63"),
        ("2500.005", "2500.01"),
        ("-5166.625", "-5166.63"),
        ("1.005", "1.01"),
        ("1.00499999999999999999999999999999", "1.00"),
        ("-0.001", "0.00"),
        ("7", "7.00"),
    ],
)
def test_round_money_half_cent_goes_away_from_zero(value: str, expected: str) -> None:
    assert str(money.round_money(Decimal(value))) == expected


def test_round_money_ignores_the_context_of_the_thread() -> None:
    with localcontext() as context:
        context.prec = 4
        context.rounding = "ROUND_DOWN"
        assert money.round_money(Decimal("5166.625")) == Decimal("5166.63")
    assert getcontext().rounding != ROUND_HALF_UP  # the module does not change it for others either


@given(st.fractions(min_value=-(10**9), max_value=10**9, max_denominator=10**6))
def test_round_money_is_the_nearest_cent(share: Fraction) -> None:
    value = Decimal(share.numerator) / Decimal(share.denominator)
    rounded = money.round_money(value)
    assert rounded.as_tuple().exponent == -2
    assert abs(Fraction(rounded) - Fraction(value)) <= Fraction(1, 200)


@pytest.mark.parametrize("value", [1.5, 3, "1.50", None])
def test_round_money_other_types_raise_type_error(value: object) -> None:
    with pytest.raises(TypeError, match="must be a Decimal"):
        money.round_money(value)  # type: ignore[arg-type]


@pytest.mark.parametrize("value", ["NaN", "sNaN", "Infinity", "-Infinity", "1E+31", "1E-999999", "1." + "1" * 60])
def test_round_money_no_plain_number_is_refused(value: str) -> None:
    with pytest.raises(Refused) as caught:
        money.round_money(Decimal(value))
    assert caught.value.code == "money_not_finite"
    assert len(caught.value.message) < 80


@pytest.mark.parametrize(
    ("amount", "rate", "expected"),
    [("41333.00", "12.5", "5166.63"), ("25000.05", "10", "2500.01"), ("48500.00", "9", "4365.00")],
)
def test_percent_of_matches_the_worked_figures(amount: str, rate: str, expected: str) -> None:
    assert money.percent_of(Decimal(amount), rate=Decimal(rate)) == Decimal(expected)


def test_share_of_is_exact() -> None:
    # By hand: 33.3333 % of 10,000,000,000.00 less 33.3333 % of one cent.
    assert money.share_of(Decimal("9999999999.99"), rate=Decimal("33.3333")) == Decimal("3333329999.99666667")


@pytest.mark.parametrize("rate", ["-1", "100.0001", "0.09", "9.00001"])
def test_rate_that_makes_no_sense_is_refused_with_the_figure(rate: str) -> None:
    with pytest.raises(Refused, match=rate.replace(".", r"\.")) as caught:
        money.check_rate(Decimal(rate), field="rate")
    assert (caught.value.code, caught.value.field) == ("money_rate", "rate")
    assert caught.value.mend


def test_rate_typed_as_a_fraction_is_told_the_percent() -> None:
    with pytest.raises(Refused, match="For 9 % give that figure"):
        money.check_rate(Decimal("0.09"), field="rate")


@given(st.lists(cents, max_size=50))
def test_total_is_exact(amounts: list[Decimal]) -> None:
    result = money.total(amounts)
    assert Fraction(result) == sum(map(Fraction, amounts), Fraction(0))
    assert result.as_tuple().exponent == -2


def test_total_finer_than_a_cent_is_refused() -> None:
    with pytest.raises(Refused, match=r"1\.005 is finer than a cent"):
        money.total([Decimal("1.00"), Decimal("1.005")])


def test_apportion_price_parts_match_the_worked_example() -> None:
    # A log model split into money: P0 20,000, effects 0.20 0.10 -0.05, P 25,680.51 (standards, section 10).
    parts = money.apportion(Decimal("5680.51"), weights=[Decimal("0.20"), Decimal("0.10"), Decimal("-0.05")])
    assert parts == [Decimal("4544.41"), Decimal("2272.20"), Decimal("-1136.10")]


def test_apportion_equal_remainders_favour_the_earlier_part() -> None:
    assert money.apportion(Decimal("100.00"), weights=[1, 1, 1]) == [
        Decimal("33.34"),
        Decimal("33.33"),
        Decimal("33.33"),
    ]


@given(cents, st.lists(st.integers(0, 10**6), min_size=1, max_size=30).filter(any))
def test_apportion_adds_up_and_each_part_is_within_a_cent(whole: Decimal, weights: list[int]) -> None:
    parts = money.apportion(whole, weights=weights)
    assert money.total(parts) == whole
    for part, weight in zip(parts, weights, strict=True):
        assert abs(Fraction(part) - Fraction(whole) * weight / sum(weights)) < Fraction(1, 100)


@pytest.mark.parametrize("weights", [[], [0, 0], [Decimal("0.1"), Decimal("-0.1")]])
def test_apportion_weights_adding_up_to_zero_are_refused(weights: list[Decimal | int]) -> None:
    with pytest.raises(Refused, match="add up to zero"):
        money.apportion(Decimal("1.00"), weights=weights)


def test_apportion_float_weight_raises_type_error() -> None:
    with pytest.raises(TypeError):
        money.apportion(Decimal("1.00"), weights=[0.5])  # type: ignore[list-item]


@pytest.mark.parametrize(
    ("amount", "currency", "expected"),
    [
        ("42500", "USD", "$42,500.00"),
        ("-1200", "USD", "−$1,200.00"),
        ("42500", "EUR", "EUR 42,500.00"),
        ("-0.005", "EUR", "−EUR 0.01"),
        ("-0.004", "USD", "$0.00"),
    ],
)
def test_show_amount_reads_as_people_write_it(amount: str, currency: str, expected: str) -> None:
    assert money.show(Decimal(amount), currency=currency) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("$42,500", "42500.00"),
        ("42,500.00", "42500.00"),
        ("42500.5", "42500.50"),
        ("42500.000", "42500.00"),
        ("0.500", "0.50"),
        (".50", "0.50"),
        ("1,234", "1234.00"),
        ("USD 1,200.00", "1200.00"),
        ("usd1200", "1200.00"),
        ("US$ 1,200", "1200.00"),
        ("$1,200 USD", "1200.00"),
        ("42.500,00 €", "42500.00"),
        ("1.234.567", "1234567.00"),
        ("(1,200.00)", "-1200.00"),
        ("($1,200.00)", "-1200.00"),
        ("$(1,200.00)", "-1200.00"),
        ("-$1,200", "-1200.00"),
        ("$-1,200", "-1200.00"),
        ("1,200-", "-1200.00"),
        ("−1,200", "-1200.00"),
        ("  42,500 ", "42500.00"),
        ("1\u00a0234\u00a0567.89", "1234567.89"),
        ("42\u202f500", "42500.00"),
        ("42’500.00", "42500.00"),
        ("9,999,999,999.99", "9999999999.99"),
        ("0", "0.00"),
    ],
)
def test_parse_text_people_write_is_understood(text: str, expected: str) -> None:
    assert str(money.parse(text)) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1.234", "1234.00"),
        ("1,5", "1.50"),
        ("1.234,56", "1234.56"),
        ("1,234.56", "1234.56"),
        ("1,234,567", "1234567.00"),
    ],
)
def test_parse_decimal_comma_reads_the_other_convention(text: str, expected: str) -> None:
    assert str(money.parse(text, decimal_mark=",")) == expected


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("", "money_missing"),
        ("\u00a0 ", "money_missing"),
        ("TBD", "money_not_an_amount"),
        ("42k", "money_not_an_amount"),
        ("42.5 K", "money_not_an_amount"),
        ("1.2E+05", "money_not_an_amount"),
        ("NaN", "money_not_an_amount"),
        ("١٢٣", "money_not_an_amount"),
        ("--5", "money_not_an_amount"),
        ("(-5)", "money_not_an_amount"),
        ("(5", "money_not_an_amount"),
        ("$5 EUR", "money_not_an_amount"),
        ("5 JPY", "money_not_an_amount"),
        ("9" * 41, "money_not_an_amount"),
        (".", "money_unclear"),
        ("42,50", "money_unclear"),
        ("42,500.", "money_unclear"),
        ("0,500", "money_unclear"),
        ("1,2345", "money_unclear"),
        ("1,23,456", "money_unclear"),
        ("1,234 567", "money_unclear"),
        ("1,234,56.78", "money_unclear"),
        ("1.234", "money_ambiguous"),
        ("1,234.567", "money_unrounded"),
        ("10,000,000,000", "money_too_high"),
    ],
)
def test_parse_text_that_cannot_be_told_is_refused_with_field_and_mend(text: str, code: str) -> None:
    with pytest.raises(Refused) as caught:
        money.parse(text, field="ask")
    assert (caught.value.code, caught.value.field) == (code, "ask")
    assert caught.value.mend
    assert len(str(caught.value)) < 200


def test_parse_comma_before_three_digits_is_ambiguous_where_the_comma_is_decimal() -> None:
    with pytest.raises(Refused, match="could be 1234") as caught:
        money.parse("1,234", decimal_mark=",")
    assert caught.value.code == "money_ambiguous"


@pytest.mark.parametrize("text", ["$1,200", "1,200 USD", "US$1,200", "1200"])
def test_parse_own_currency_is_accepted(text: str) -> None:
    assert money.parse(text, currency="USD") == Decimal("1200.00")


@pytest.mark.parametrize("text", ["€1,200", "1,200 CAD", "£1,200"])
def test_parse_another_currency_is_refused(text: str) -> None:
    with pytest.raises(Refused, match="another currency than USD"):
        money.parse(text, currency="USD")


@given(cents)
def test_parse_reads_back_what_show_writes(amount: Decimal) -> None:
    assert money.parse(money.show(amount)) == amount
    assert money.parse(money.show(amount, currency="EUR"), currency="EUR") == amount


@given(st.text(max_size=50))
def test_parse_any_text_gives_cents_or_refuses(text: str) -> None:
    try:
        amount = money.parse(text)
    except Refused as refusal:
        mend = refusal.mend
    else:
        mend = "" if amount != money.round_money(amount) else "not needed"
    assert mend


@pytest.mark.parametrize(
    ("value", "code"),
    [
        (Decimal("-0.01"), "money_negative"),
        (Decimal("10000000000.00"), "money_too_high"),
        (Decimal("1.005"), "money_unrounded"),
        (Decimal("NaN"), "money_not_finite"),
        (1.5, "money_type"),
        (True, "money_type"),
        ("1.50", "money_type"),
        (None, "money_type"),
    ],
)
def test_check_amount_refuses_with_field_and_mend(value: object, code: str) -> None:
    with pytest.raises(Refused) as caught:
        money.check_amount(value, field="price")
    assert (caught.value.code, caught.value.field) == (code, "price")
    assert caught.value.mend


def test_check_amount_below_its_own_minimum_names_it() -> None:
    with pytest.raises(Refused, match=r"5\.00 is less than 10\.00"):
        money.check_amount(Decimal(5), field="deposit", minimum=10)


@pytest.mark.parametrize("value", [5, Decimal(5), Decimal("5.0000")])
def test_check_amount_returns_two_places(value: object) -> None:
    assert str(money.check_amount(value, field="price")) == "5.00"


@pytest.mark.parametrize(("amount", "text"), [("33406.31", "$33,406"), ("33406.50", "$33,407"), ("-12.50", "−$13")])
def test_estimates_are_shown_without_cents(amount: str, text: str) -> None:
    assert money.show_whole(Decimal(amount)) == text
