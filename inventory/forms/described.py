"""A vehicle described in JSON becomes a row of the history: keys are the canonical columns, null is unknown."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from inventory.errors import Refused
from inventory.rules.scores import check_interval
from inventory.rules.words import BuildClass, OdometerStatus, SaleChannel, TitleBrand

_TEXTS = ("make", "model", "trim", "body", "engine", "transmission", "color")
_WORDS = {
    "build_class": BuildClass.values,
    "odometer_status": OdometerStatus.values,
    "title_brand": TitleBrand.values,
    "channel": SaleChannel.values,
}
_NUMBERS = {"year": (1886, 2200), "mileage": (0, 2_000_000)}
_SCORES = ("condition", "originality")
KEYS = (*_TEXTS, *_WORDS, *_NUMBERS, *_SCORES, "modifications", "ended_on", "stock_number", "vin")


def described_vehicle(given: Any, *, today: date) -> dict[str, Any]:
    """Check every key and value; refuse what is not known by name. Priced for today unless `ended_on` is given."""
    if not isinstance(given, Mapping):
        raise _bad("vehicle", type(given).__name__, mend="Give one JSON object.")
    unknown = sorted(set(given) - set(KEYS))
    if unknown:
        raise _bad(unknown[0], given[unknown[0]], mend=f"Known keys: {', '.join(KEYS)}.")
    for name in ("year", "make", "model"):
        if given.get(name) in (None, ""):
            raise _bad(name, given.get(name), mend="Year, make and model are needed.")
    row: dict[str, Any] = {name: _text(name, given.get(name)) for name in _TEXTS}
    row |= {name: _word(name, given.get(name), allowed=allowed) for name, allowed in _WORDS.items()}
    row |= {name: _number(name, given.get(name), ends=ends) for name, ends in _NUMBERS.items()}
    for name in _SCORES:
        row |= _score(name, given.get(name))
    row["modifications"] = _modifications(given.get("modifications"))
    row["ended_on"] = _day(given.get("ended_on"), today=today)
    return row


def _text(name: str, value: Any) -> str | None:
    if value is None:
        return None
    if not isinstance(value, str) or len(value) > 200:
        raise _bad(name, value, mend="Give a text of at most 200 characters, or null.")
    return value.strip() or None


def _word(name: str, value: Any, *, allowed: list[str]) -> str | None:
    if value is not None and value not in allowed:
        raise _bad(name, value, mend=f"Give one of {', '.join(allowed)}, or null.")
    return None if value is None else str(value)


def _number(name: str, value: Any, *, ends: tuple[int, int]) -> int | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int) or not ends[0] <= value <= ends[1]:
        raise _bad(name, value, mend=f"Give a whole number from {ends[0]} to {ends[1]}, or null.")
    return value


def _score(name: str, value: Any) -> dict[str, Any]:
    if value is None:
        return {f"{name}_low": None, f"{name}_high": None}
    ends = value if isinstance(value, list) else [value, value]
    if len(ends) != 2 or not all(isinstance(end, int | float) and not isinstance(end, bool) for end in ends):
        raise _bad(name, value, mend="Give a number from 0 to 100, or [low, high].")
    span = check_interval(str(ends[0]), str(ends[1]), field=name)
    return {f"{name}_low": span.low, f"{name}_high": span.high}


def _modifications(value: Any) -> list[str] | None:
    if value is None:
        return None
    if not isinstance(value, list) or not all(isinstance(text, str) for text in value):
        raise _bad("modifications", value, mend='Give a list of texts such as ["brakes"], [] for none, or null.')
    return value


def _day(value: Any, *, today: date) -> date:
    if value is None:
        return today
    try:
        return date.fromisoformat(value)
    except (TypeError, ValueError) as problem:
        raise _bad("ended_on", value, mend="Give a date such as 2026-03-14, or null.") from problem


def _bad(name: str, value: Any, *, mend: str) -> Refused:
    return Refused("bad_value", f"{name} is {value!r}.", field=name, got=str(value), mend=mend)
