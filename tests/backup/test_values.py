"""One value of one column, out and back: exact, and the same text whichever database it was read from."""

import json
import uuid
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from typing import Any

import pytest
from django.apps import apps
from django.db import models

from inventory.backup.tables import BACKED_UP, LEFT_OUT
from inventory.backup.values import line_of, plain, value_of
from inventory.models.fields import MoneyField

WEST = timezone(timedelta(hours=-6))


@pytest.mark.parametrize(
    ("field", "value", "text"),
    [
        (MoneyField(), Decimal("0.10"), '"0.10"'),
        (MoneyField(), Decimal("9999999999.99"), '"9999999999.99"'),
        (models.DecimalField(), Decimal("1E+2"), '"100"'),
        (models.DateTimeField(), datetime(2026, 3, 8, 1, 59, 59, 1, WEST), '"2026-03-08T07:59:59.000001+00:00"'),
        (models.DateField(), date(1968, 2, 29), '"1968-02-29"'),
        (models.DurationField(), timedelta(days=-1, microseconds=7), "-86399999993"),
        (models.UUIDField(), uuid.UUID(int=7), '"00000000-0000-0000-0000-000000000007"'),
        (models.BinaryField(), b"\x00\xff", '"AP8="'),
        (models.BooleanField(), True, "true"),
        (models.BigIntegerField(), 2**62, "4611686018427387904"),
        (models.CharField(), "Zoë “7” \u2028", '"Zoë “7” \u2028"'),
        (models.JSONField(), {"b": [1.5, None, True], "a": {"z": "", "y": 0.1}}, None),
        (models.DateField(null=True), None, "null"),
    ],
)
def test_value_comes_back_exactly(field: Any, value: Any, text: str | None) -> None:
    line = line_of(("it",), values=(value,))
    assert text is None or line.decode() == f'{{"it":{text}}}\n'
    back = value_of(field, told=json.loads(line)["it"])
    assert back == value
    assert type(back) is type(value)
    assert line_of(("it",), values=(back,)) == line


def test_json_is_one_text_for_what_two_databases_read_differently() -> None:
    """PostgreSQL keeps numbers as numeric and names by length: 1e22 comes back whole, -0.0 without its sign."""
    assert json.dumps(plain({"b": 1e22, "a": -0.0})) == json.dumps(plain({"a": 0.0, "b": 10**22}))


@pytest.mark.parametrize(
    ("field", "told"),
    [
        (MoneyField(), 48500.0), (MoneyField(), "NaN"), (MoneyField(), "much"), (models.DateField(), "2026-02-30"),
        (models.DateTimeField(), "2026-03-08T07:59:59"), (models.BooleanField(), 1), (models.IntegerField(), True),
        (models.IntegerField(), "7"), (models.CharField(), 7), (models.BinaryField(), "?"), (models.DateField(), None),
        (models.UUIDField(), "x"),
    ],
)  # fmt: skip
def test_what_a_column_cannot_hold_is_refused(field: Any, told: Any) -> None:
    with pytest.raises(ValueError, match=r".+"):
        value_of(field, told=told)


def test_moments_are_told_in_utc_whatever_their_zone() -> None:
    assert plain(datetime(2026, 3, 8, 1, 0, tzinfo=WEST)) == plain(datetime(2026, 3, 8, 7, 0, tzinfo=UTC))


def test_every_installed_table_is_backed_up_or_left_out_with_a_reason() -> None:
    labels = {model._meta.app_label for model in apps.get_models(include_auto_created=True)}
    assert labels - {*BACKED_UP, *LEFT_OUT} == set()
