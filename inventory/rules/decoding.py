"""Codes as makers stamped them: how one is compared with the lot's own decoder table."""

import re
from collections.abc import Sequence
from datetime import date

_BETWEEN = re.compile(r"[\s\-\u2010-\u2015\u2212./]+")


def key_of(code: str) -> str:
    """The code as it is compared: capitals, without spaces, hyphens, points and strokes.

    >>> key_of(" 6-b 10 ")
    '6B10'
    """
    return _BETWEEN.sub("", code).upper()


def beginnings(code: str) -> list[str]:
    """Every beginning of a code, the whole of it included: what a table of prefixes is asked for."""
    key = key_of(code)
    return [key[:length] for length in range(1, len(key) + 1)]


def ambiguity(dates: Sequence[tuple[date, date] | None], *, meanings: int) -> str:
    """What to say where one code has several meanings; nothing where it has one.

    Many codes give one digit of the year, and so repeat every ten years.
    """
    if meanings < 2:
        return ""
    spans = sorted({span for span in dates if span is not None})
    years = {earliest.year for earliest, _ in spans}
    if len(years) > 1 and len({year % 10 for year in years}) == 1:
        return (
            "The code gives one digit of the year and cannot tell the decade: "
            f"{' or '.join(str(year) for year in sorted(years))}. The part number may."
        )
    return f"The code has {meanings} meanings in the table: it alone does not tell which."
