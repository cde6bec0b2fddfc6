"""Money: exact everywhere, rounded in one place. Two decimal places; half-up is away from zero."""

import re
from collections.abc import Iterable, Sequence
from decimal import ROUND_HALF_UP, Context, Decimal, Inexact, InvalidOperation
from fractions import Fraction
from math import floor
from typing import Literal

from inventory.errors import Refused

CENT = Decimal("0.01")
ZERO = Decimal("0.00")
MAX_MONEY = Decimal("9999999999.99")
"""Twelve digits, two of them after the point: what a money column holds."""

RATE_PLACES = 4
"""A rate may be as fine as 0.0001 %: more is a slip, and bounded digits keep every product exact."""

# Our own contexts: an answer in money must not depend on what another library set for its thread.
_ROUNDING = Context(prec=60, rounding=ROUND_HALF_UP)
_EXACT = Context(prec=60, traps=[InvalidOperation, Inexact])

DecimalMark = Literal[".", ","]

# Two-decimal currencies whose code or sign may stand beside an amount. A bare $ is used by several.
_DOLLARS = frozenset({"USD", "CAD", "AUD", "NZD", "MXN"})
_CODES = _DOLLARS | {"EUR", "GBP", "CHF", "SEK", "NOK", "DKK", "PLN", "CZK"}
_SIGNS = {
    "US$": frozenset({"USD"}),
    "$": _DOLLARS,
    "€": frozenset({"EUR"}),
    "£": frozenset({"GBP"}),
    **{code: frozenset({code}) for code in _CODES},
}
_SIGN = "|".join(re.escape(sign) for sign in sorted(_SIGNS, key=lambda sign: (-len(sign), sign)))
_TYPED = re.compile(
    rf"(?P<c1>{_SIGN})? ?(?P<open>\()? ?(?P<m1>-)? ?(?P<c2>{_SIGN})? ?(?P<m2>-)? ?"
    rf"(?P<number>[0-9.,](?:[0-9.,' ]*[0-9.,])?)"
    rf" ?(?P<c3>{_SIGN})? ?(?P<m3>-)? ?(?P<close>\))? ?(?P<c4>{_SIGN})?",
    re.IGNORECASE,
)
_SHORTHAND = re.compile(r"[0-9] ?(?:k|m|mio|thousand|million)\b", re.IGNORECASE)
_ALIKE = str.maketrans(
    {"\u00a0": " ", "\u2007": " ", "\u2009": " ", "\u202f": " ", "\t": " ", "\u2019": "'"}
    | {"\u2212": "-", "\u2013": "-"}
)
_LONGEST = 40
_MOST_DIGITS = 40


def round_money(value: Decimal) -> Decimal:
    """The amount to the cent, half away from zero: 5,166.625 → 5,166.63 and −5,166.625 → −5,166.63.

    Raises TypeError for anything but a Decimal (a float has already lost the half cent), Refused for
    NaN, an infinity or a value beyond all use. Zero comes back without a sign.
    """
    amount = _finite(value)
    return _ROUNDING.add(amount.quantize(CENT, rounding=ROUND_HALF_UP, context=_ROUNDING), ZERO)


def share_of(amount: Decimal, *, rate: Decimal) -> Decimal:
    """amount × rate ÷ 100, exact and not rounded; `rate` is in percent, so 12.5 means 12.5 %."""
    product = _EXACT.multiply(_finite(amount), check_rate(rate, field="rate"))
    return product.scaleb(-2, context=_EXACT)


def percent_of(amount: Decimal, *, rate: Decimal) -> Decimal:
    """round(amount × rate ÷ 100) to the cent; `rate` is in percent: 12.5 % of 41,333.00 is 5,166.63."""
    return round_money(share_of(amount, rate=rate))


def total(amounts: Iterable[Decimal]) -> Decimal:
    """The exact sum. Refuses an amount finer than a cent: it would make the sum differ from what is shown."""
    result = ZERO
    for amount in amounts:
        result = _EXACT.add(result, _whole_cents(_finite(amount), field="amount"))
    return result


def apportion(total: Decimal, *, weights: Sequence[Decimal | int]) -> list[Decimal]:
    """Split a total in proportion to the weights, in cents that add up to it exactly.

    Each exact share total × wᵢ ÷ Σw is taken down to the cent; the cents left over go, one each, to the
    largest remainders, the earlier part first where two are equal. A part is never a cent or more away
    from its exact share. Weights may be negative (the parts of a price may lower it) if they do not
    cancel out.
    """
    whole = _whole_cents(_finite(total), field="total")
    parts = [Fraction(_finite(Decimal(weight) if isinstance(weight, int) else weight)) for weight in weights]
    sum_of_weights = sum(parts, Fraction(0))
    if not sum_of_weights:
        raise Refused(
            "money_weights",
            f"{plain(whole)} cannot be split: the {len(parts)} weights add up to zero.",
            field="weights",
            got=list(weights),
            mend="Give weights with a sum other than zero.",
        )
    exact = [Fraction(whole) * 100 * part / sum_of_weights for part in parts]
    cents = [floor(share) for share in exact]
    left_over = int(whole.scaleb(2, context=_EXACT)) - sum(cents)
    by_remainder = sorted(range(len(exact)), key=lambda i: (cents[i] - exact[i], i))
    for i in by_remainder[:left_over]:
        cents[i] += 1
    return [Decimal(count).scaleb(-2, context=_EXACT) for count in cents]


def plain(amount: Decimal) -> str:
    """The amount without a currency, for sentences: 42,500.00 or −1,200.00."""
    rounded = round_money(amount)
    return f"{'−' if rounded < 0 else ''}{abs(rounded):,.2f}"


def show(amount: Decimal, *, currency: str = "USD") -> str:
    """The amount as people read it, rounded to the cent: $42,500.00, −$1,200.00, EUR 42,500.00."""
    text = plain(amount)
    sign, digits = ("−", text[1:]) if text.startswith("−") else ("", text)
    return f"{sign}${digits}" if currency == "USD" else f"{sign}{currency} {digits}"


def show_whole(amount: Decimal, *, currency: str = "USD") -> str:
    """An estimate as people read it, without cents: $33,406. For what is paid, use `show`."""
    return show(amount.quantize(Decimal(1), rounding=ROUND_HALF_UP, context=_ROUNDING), currency=currency)[:-3]


def check_amount(value: object, *, field: str, minimum: Decimal | int = ZERO, maximum: Decimal = MAX_MONEY) -> Decimal:
    """The amount with two places, or Refused: not a number, a float, finer than a cent, too low, too high."""
    if isinstance(value, bool) or not isinstance(value, Decimal | int):
        raise Refused(
            "money_type",
            f"{value!r} is not an exact amount but a {type(value).__name__}.",
            field=field,
            got=value,
            mend="Send it as text with at most two decimals, such as 42500.00.",
        )
    amount = _whole_cents(_finite(Decimal(value), field=field), field=field)
    if amount < minimum:
        raise _too_low(amount, field=field, minimum=Decimal(minimum))
    if amount > maximum:
        raise Refused(
            "money_too_high",
            f"{plain(amount)} is more than {plain(maximum)}.",
            field=field,
            got=value,
            mend=f"Give an amount of at most {plain(maximum)}.",
        )
    return amount


def check_rate(rate: Decimal, *, field: str) -> Decimal:
    """A rate in percent, 0 to 100, as fine as 0.0001. Refuses what looks like a fraction (0.09 for 9 %)."""
    value = _finite(rate, field=field)
    if not 0 <= value <= 100:
        message, mend = f"A rate of {value} % is not between 0 and 100.", "Give a rate from 0 to 100."
    elif 0 < value < Decimal("0.5"):
        message = f"A rate of {value} % looks like a fraction."
        mend = f"For {(value * 100).normalize():f} % give that figure; the least rate is 0.5, or 0 for none."
    elif value != value.quantize(Decimal(1).scaleb(-RATE_PLACES), context=_ROUNDING):
        message, mend = f"A rate of {value} % is too fine.", f"Give at most {RATE_PLACES} decimals."
    else:
        return value
    raise Refused("money_rate", message, field=field, got=rate, mend=mend)


def parse(text: str, *, field: str = "price", decimal_mark: DecimalMark = ".", currency: str | None = None) -> Decimal:
    """An amount from text typed by people or left by a spreadsheet; what can be read two ways is refused.

    A currency sign or code may stand on either side; with `currency` given, another one is refused.
    Thousands may be parted by the mark that is not `decimal_mark`, by spaces (also the non-breaking
    ones) or by apostrophes, in threes. The other convention is understood where no second reading
    exists (42.500,00 and 1.234.567). One `decimal_mark` before exactly three digits (1.234) could be a
    thousand or a fraction, so it is refused. Negative: a minus on either side, or brackets.
    """
    tidy = " ".join(text.translate(_ALIKE).split())
    if not tidy:
        raise Refused("money_missing", "No amount was given.", field=field, got=text, mend="Enter an amount.")
    typed = _TYPED.fullmatch(tidy) if len(tidy) <= _LONGEST else None
    if typed is None:
        raise _not_money(tidy, field=field)
    negative = _is_negative(typed, field=field)
    _check_currency(typed, field=field, currency=currency)
    amount = _number(typed["number"], field=field, decimal_mark=decimal_mark)
    return check_amount(-amount if negative else amount, field=field, minimum=-MAX_MONEY)


def _finite(value: object, *, field: str = "amount") -> Decimal:
    if not isinstance(value, Decimal):
        raise TypeError(f"money must be a Decimal, got {type(value).__name__} {value!r}")
    if not value.is_finite() or abs(value.adjusted()) > 30 or len(value.as_tuple().digits) > _MOST_DIGITS:
        raise Refused(
            "money_not_finite",
            f"{str(value)[:_LONGEST]} is not an amount.",
            field=field,
            got=value,
            mend="Give a plain number with at most two decimals.",
        )
    return value


def _whole_cents(amount: Decimal, *, field: str) -> Decimal:
    rounded = round_money(amount)
    if rounded != amount:
        raise Refused(
            "money_unrounded",
            f"{amount:f} is finer than a cent.",
            field=field,
            got=amount,
            mend=f"Give at most two decimals, such as {rounded}.",
        )
    return rounded


def _too_low(amount: Decimal, *, field: str, minimum: Decimal) -> Refused:
    negative = amount < 0 <= minimum
    return Refused(
        "money_negative" if negative else "money_too_low",
        f"{plain(amount)} is negative." if negative else f"{plain(amount)} is less than {plain(minimum)}.",
        field=field,
        got=amount,
        mend=f"Give an amount of at least {plain(minimum)}.",
    )


def _not_money(text: str, *, field: str) -> Refused:
    shown = text if len(text) <= _LONGEST else f"{text[:_LONGEST]}…"
    if _SHORTHAND.search(text):
        message, mend = f"“{shown}” is shorthand.", "Write the amount in full, such as 42,000."
    else:
        message, mend = (
            f"“{shown}” is not an amount.",
            "Write digits with at most two decimals, such as 42,500.00.",
        )
    return Refused("money_not_an_amount", message, field=field, got=text, mend=mend)


def _is_negative(typed: re.Match[str], *, field: str) -> bool:
    minuses = sum(typed[name] is not None for name in ("m1", "m2", "m3"))
    bracketed = typed["open"] is not None
    if bracketed != (typed["close"] is not None) or minuses + bracketed > 1:
        raise _not_money(typed[0], field=field)
    return minuses + bracketed == 1


def _check_currency(typed: re.Match[str], *, field: str, currency: str | None) -> None:
    signs = [typed[name].upper() for name in ("c1", "c2", "c3", "c4") if typed[name] is not None]
    meant = [_SIGNS[sign] for sign in signs]
    # "$1,200 USD" names one currency twice; "$1,200 EUR" names two.
    if meant and not frozenset.intersection(*meant):
        raise _not_money(typed[0], field=field)
    if currency is not None and any(currency not in codes for codes in meant):
        raise Refused(
            "money_currency",
            f"“{typed[0]}” is in another currency than {currency}.",
            field=field,
            got=typed[0],
            mend=f"Give the amount in {currency}.",
        )


def _number(text: str, *, field: str, decimal_mark: DecimalMark) -> Decimal:
    other = "," if decimal_mark == "." else "."
    mark, thousands = re.escape(decimal_mark), re.escape(other)
    if re.fullmatch(rf"[1-9][0-9]{{0,2}}{mark}[0-9]{{3}}", text):
        raise _ambiguous(text, field=field, decimal_mark=decimal_mark)
    grouped = rf"[1-9][0-9]{{0,2}}(?P<sep>[{thousands}' ])[0-9]{{3}}(?:(?P=sep)[0-9]{{3}})*"
    if re.fullmatch(rf"(?:[0-9]*|{grouped}){mark}[0-9]+|[0-9]+|{grouped.replace('sep', 'sep2')}", text):
        return _decimal(text, decimal_mark=decimal_mark)
    # The other convention, only where nothing else can be meant: several groups, or a group and decimals.
    group = rf"[1-9][0-9]{{0,2}}(?:{mark}[0-9]{{3}})"
    if re.fullmatch(rf"{group}{{2,}}|{group}+{thousands}[0-9]{{1,2}}", text):
        return _decimal(text, decimal_mark=other)
    raise Refused(
        "money_unclear",
        f"“{text}” cannot be read as one amount.",
        field=field,
        got=text,
        mend=f"Part thousands with “{other}” in threes, or not at all, and decimals with “{decimal_mark}”.",
    )


def _decimal(text: str, *, decimal_mark: str) -> Decimal:
    whole, _, fraction = text.partition(decimal_mark)
    digits = re.sub("[^0-9]", "", whole)
    return Decimal(f"{digits or '0'}.{fraction or '0'}")


def _ambiguous(text: str, *, field: str, decimal_mark: DecimalMark) -> Refused:
    digits = text.replace(decimal_mark, "")
    return Refused(
        "money_ambiguous",
        f"“{text}” could be {digits} or a fraction with three decimals.",
        field=field,
        got=text,
        mend=f"Write {digits} or give two decimals, or say which mark parts the decimals.",
    )
