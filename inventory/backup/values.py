"""One value of one column as JSON and back, the same whichever database it was read from."""

import base64
import binascii
import json
import uuid
from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal, InvalidOperation
from typing import Any

from django.db import models

WHOLE_FROM = 1e16  # from here on one database writes a whole float without its point
_MICROSECOND = timedelta(microseconds=1)


def line_of(columns: tuple[str, ...], *, values: tuple[Any, ...]) -> bytes:
    row = {name: plain(value) for name, value in zip(columns, values, strict=True)}
    return json.dumps(row, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode() + b"\n"


def plain(value: Any) -> Any:
    """What JSON can hold, exactly: money and other decimals as text, moments in UTC to the microsecond."""
    if value is None or isinstance(value, bool | int | str):
        return value
    told = _TEXTS.get(type(value))
    return told(value) if told else str(value)


def _float(value: float) -> float | int:
    if value.is_integer() and abs(value) >= WHOLE_FROM:
        return int(value)
    return value or 0.0  # -0.0 is 0.0


def _moment(value: datetime) -> str:
    return value.astimezone(UTC).isoformat(timespec="microseconds")


def _object(value: dict[str, Any]) -> dict[str, Any]:
    """By name: one database keeps the order of writing, the other does not."""
    return {key: plain(value[key]) for key in sorted(value)}


def _bytes(value: bytes | memoryview) -> str:
    return base64.b64encode(bytes(value)).decode()


_TEXTS: dict[type, Callable[[Any], Any]] = {
    Decimal: lambda value: format(value, "f"),
    datetime: _moment,
    date: date.isoformat,
    time: lambda value: value.isoformat(timespec="microseconds"),
    timedelta: lambda value: value // _MICROSECOND,
    uuid.UUID: str,
    float: _float,
    bytes: _bytes,
    memoryview: _bytes,
    list: lambda value: [plain(item) for item in value],
    dict: _object,
}


def value_of(field: "models.Field[Any, Any]", *, told: Any) -> Any:
    """The value again. Raises ValueError where the column cannot hold what the line says."""
    if isinstance(field, models.JSONField):
        return told
    if told is None:
        if not field.null:
            raise ValueError("nothing")
        return None
    while isinstance(field, models.ForeignKey):
        field = field.target_field
    for kind, (of_json, read) in _READERS.items():
        if isinstance(field, kind):
            return _read(told, of_json=of_json, read=read)
    raise ValueError(f"a {type(field).__name__}, which no backup holds")


def _read(told: Any, *, of_json: type, read: Callable[[Any], Any]) -> Any:
    if not isinstance(told, of_json) or (isinstance(told, bool) and of_json is not bool):
        raise ValueError(f"{told!r:.40}")
    try:
        return read(told)
    except (InvalidOperation, binascii.Error, OverflowError, ValueError) as problem:
        raise ValueError(f"{told!r:.40}") from problem


def _aware(told: str) -> datetime:
    moment = datetime.fromisoformat(told)
    if moment.tzinfo is None:
        raise ValueError("without its zone")
    return moment


def _finite(told: str) -> Decimal:
    amount = Decimal(told)
    if not amount.is_finite():
        raise ValueError("not a number")
    return amount


# The first that fits: DateTimeField before DateField, which it is too.
_READERS: dict[type["models.Field[Any, Any]"], tuple[type, Callable[[Any], Any]]] = {
    models.DateTimeField: (str, _aware),
    models.DateField: (str, date.fromisoformat),
    models.TimeField: (str, time.fromisoformat),
    models.DurationField: (int, lambda told: timedelta(microseconds=told)),
    models.DecimalField: (str, _finite),
    models.UUIDField: (str, uuid.UUID),
    models.BinaryField: (str, lambda told: base64.b64decode(told, validate=True)),
    models.BooleanField: (bool, bool),
    models.FloatField: ((float | int), float),  # type: ignore[dict-item]
    models.IntegerField: (int, int),
    models.GenericIPAddressField: (str, str),
    models.FileField: (str, str),
    models.CharField: (str, str),
    models.TextField: (str, str),
}
