"""Lists without end, a piece at a time: the next piece begins after the last row shown, however deep that lies.

A page counted from the top is read and thrown away by the database up to where it begins; and a row that comes in
meanwhile pushes one over the edge, so that it is seen twice. A place named by the row itself does neither.
"""

import base64
import binascii
import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import reduce
from typing import Any, Generic, TypeVar

from django.core.exceptions import ValidationError
from django.db.models import F, Field, Model, Q, QuerySet

from inventory.errors import NotFound

Row = TypeVar("Row", bound=Model)
LONGEST = 2_000  # characters of a place, as it stands in an address
AFTER, BEFORE = "a", "b"


@dataclass(frozen=True)
class Piece(Generic[Row]):
    """Some rows of a list, and the places where the pieces before and after it begin; empty where there is none."""

    rows: list[Row]
    before: str
    after: str


@dataclass(frozen=True)
class _Key:
    """One column of the order. What is not known comes last, whichever way it runs."""

    column: str
    falls: bool
    field: "Field[Any, Any]"
    may_lack: bool

    def order(self, *, turned: bool) -> Any:
        down = self.falls != turned
        if not self.may_lack:  # without a word on nulls, so that an index serves
            return F(self.column).desc() if down else F(self.column).asc()
        ends = {"nulls_first": True} if turned else {"nulls_last": True}
        return F(self.column).desc(**ends) if down else F(self.column).asc(**ends)

    def same(self, value: Any) -> Q:
        return Q(**{f"{self.column}__isnull": True}) if value is None else Q(**{self.column: value})

    def beyond(self, value: Any, *, turned: bool) -> Q | None:
        """Rows that come later in this column; None where there can be none."""
        if value is None:
            return Q(**{f"{self.column}__isnull": False}) if turned else None
        later = Q(**{f"{self.column}__{'lt' if self.falls != turned else 'gt'}": value})
        return later | Q(**{f"{self.column}__isnull": True}) if self.may_lack and not turned else later

    def not_before(self, value: Any, *, turned: bool) -> Q:
        return Q(**{f"{self.column}__{'lte' if self.falls != turned else 'gte'}": value})


def cut(rows: QuerySet[Row], *, order: Sequence[str], size: int, place: str = "") -> Piece[Row]:
    """One piece of a list in this order (`-ended_on`, `vehicle__year`, a name of `annotate`); the key decides last.

    `place` is one that an earlier piece named. One that no piece can have named is not found.
    """
    named = {name.removeprefix("-") for name in order}
    keys = [_key_of(rows, term=term) for term in (*order, *([] if "pk" in named else ["-pk"]))]
    turned, values = _read(place, keys=keys) if place else (False, None)
    found = rows.order_by(*(key.order(turned=turned) for key in keys))
    if values is not None:
        found = found.filter(_later(keys, values=values, turned=turned))
    read = list(found[: size + 1])
    more, shown = len(read) > size, read[:size]
    shown = shown[::-1] if turned else shown
    has_after, has_before = (values is not None, more) if turned else (more, values is not None)
    return Piece(
        shown,
        _written(BEFORE, row=shown[0], keys=keys) if shown and has_before else "",
        _written(AFTER, row=shown[-1], keys=keys) if shown and has_after else "",
    )


def _key_of(rows: QuerySet[Any], *, term: str) -> _Key:
    """A column of the model, or of one that it names; an annotation may lack its value."""
    column, falls = term.removeprefix("-"), term.startswith("-")
    if column in rows.query.annotations:
        return _Key(column, falls, rows.query.annotations[column].output_field, True)
    model: Any = rows.model
    *ways, last = column.split("__")
    lacks = False
    for way in ways:
        named = model._meta.get_field(way)
        model, lacks = named.related_model, lacks or named.null
    field = model._meta.pk if last == "pk" else model._meta.get_field(last)
    return _Key(column, falls, field, lacks or field.null)


def _later(keys: Sequence[_Key], *, values: Sequence[Any], turned: bool) -> Q:
    """All rows beyond these values, in the words of the order."""
    found, same = Q(pk__in=[]), Q()
    for key, value in zip(keys, values, strict=True):
        beyond = key.beyond(value, turned=turned)
        if beyond is not None:
            found |= same & beyond
        same &= key.same(value)
    first = keys[0]  # said again in a form that an index can begin at
    return found if first.may_lack else first.not_before(values[0], turned=turned) & found


def _written(way: str, *, row: Any, keys: Sequence[_Key]) -> str:
    values = [reduce(getattr, key.column.split("__"), row) for key in keys]
    told = json.dumps([way, *(None if value is None else str(value) for value in values)])
    return base64.urlsafe_b64encode(told.encode()).decode().rstrip("=")


def _read(place: str, *, keys: Sequence[_Key]) -> tuple[bool, list[Any]]:
    try:
        if len(place) > LONGEST or "\x00" in place:
            raise ValueError("too long")
        told = json.loads(base64.urlsafe_b64decode(place.encode("ascii") + b"=" * (-len(place) % 4)))
        way, *values = told
        if way not in (AFTER, BEFORE) or len(values) != len(keys):
            raise ValueError("of another list")
        return way == BEFORE, [_value(value, key=key) for value, key in zip(values, keys, strict=True)]
    except (ValueError, TypeError, RecursionError, ValidationError, binascii.Error) as problem:
        raise NotFound("not_found", "There is no such place in this list.", field="place", got=place[:40]) from problem


def _value(told: Any, *, key: _Key) -> Any:
    if told is None:
        if not key.may_lack:
            raise ValueError("never empty")
        return None
    if not isinstance(told, str) or "\x00" in told:
        raise ValueError("no text")
    return key.field.to_python(told)
