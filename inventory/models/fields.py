"""Columns of our own."""

import uuid
from decimal import Decimal
from typing import Any

from django.db import models

from inventory.rules.words import Grade


class MoneyField(models.DecimalField):  # type: ignore[type-arg]
    """An amount in the lot's currency: 12 digits, 2 of them decimals.

    Databases disagree on how to store what does not fit (1.005 becomes 1.00 in one and 1.01 in another),
    so a float or an unrounded value never reaches them.
    """

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs["max_digits"] = 12
        kwargs["decimal_places"] = 2
        super().__init__(*args, **kwargs)

    def deconstruct(self) -> Any:
        name, path, args, kwargs = super().deconstruct()
        del kwargs["max_digits"], kwargs["decimal_places"]
        return name, path, args, kwargs

    def get_db_prep_save(self, value: Any, connection: Any) -> Any:
        if isinstance(value, float):
            raise TypeError(f"{self.name} must be a Decimal, got the float {value!r}.")
        if isinstance(value, Decimal) and value != value.quantize(Decimal("0.01")):
            raise ValueError(f"{self.name} must be rounded to two decimals, got {value}.")
        return super().get_db_prep_save(value, connection)


def code_field() -> models.UUIDField:  # type: ignore[type-arg]
    """The name of a row outside the house: says nothing about how many there are."""
    return models.UUIDField(unique=True, default=uuid.uuid4, editable=False)


def client_key_field() -> models.UUIDField:  # type: ignore[type-arg]
    """Given by the device or form that made the row: sent again, it is the same row."""
    return models.UUIDField(unique=True, null=True, blank=True, editable=False)


def points_field() -> models.DecimalField:  # type: ignore[type-arg]
    """One end of a condition or originality interval, 0 to 100; null means unknown."""
    return models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)


def interval_checks(model: str, *, field: str) -> list[models.CheckConstraint]:
    """Both ends of an interval known or neither, within 0 to 100, low not above high."""
    low, high = f"{field}_low", f"{field}_high"
    neither = models.Q(**{f"{low}__isnull": True, f"{high}__isnull": True})
    known = models.Q(**{f"{low}__isnull": False, f"{high}__isnull": False})  # a check that is null would pass
    ordered = known & models.Q(**{f"{low}__gte": 0, f"{high}__lte": 100, f"{low}__lte": models.F(high)})
    return [
        models.CheckConstraint(
            condition=neither | ordered,
            name=f"{model}_{field}_is_interval",
            violation_error_message=f"The {field} must run from a low to a high end within 0 and 100.",
        )
    ]


def span_check(model: str, *, optional: bool = True) -> models.CheckConstraint:
    """`earliest_on` and `latest_on` in order; where optional, both or neither."""
    known = models.Q(earliest_on__isnull=False, latest_on__isnull=False, earliest_on__lte=models.F("latest_on"))
    neither = models.Q(earliest_on__isnull=True, latest_on__isnull=True)
    return models.CheckConstraint(
        condition=neither | known if optional else known,
        name=f"{model}_dates_are_a_span",
        violation_error_message="Give the earliest and the latest day, the earlier one first.",
    )


def at_least(model: str, *, field: str, least: int = 0) -> models.CheckConstraint:
    """The column is null or not below `least`."""
    return models.CheckConstraint(
        condition=models.Q(**{f"{field}__isnull": True}) | models.Q(**{f"{field}__gte": least}),
        name=f"{model}_{field}_at_least_{least}",
        violation_error_message=f"{field.replace('_', ' ').capitalize()} must be at least {least}.",
    )


def within(model: str, *, field: str, allowed: list[str]) -> models.CheckConstraint:
    """The column holds one of the words of its enumeration."""
    return models.CheckConstraint(
        condition=models.Q(**{f"{field}__in": allowed}),
        name=f"{model}_{field}_in_table",
        violation_error_message=f"{field.replace('_', ' ').capitalize()} is not one of the known words.",
    )


class WordField(models.CharField):  # type: ignore[type-arg]
    """One word of an enumeration. Its labels stay out of the migrations: a new label changes no column."""

    def __init__(self, *args: Any, words: type[models.TextChoices] | None = None, **kwargs: Any) -> None:
        if words is not None:
            kwargs["choices"] = words.choices
        super().__init__(*args, **kwargs)

    def deconstruct(self) -> Any:
        name, path, args, kwargs = super().deconstruct()
        kwargs.pop("choices", None)
        return name, path, args, kwargs


class GradeField(models.PositiveSmallIntegerField):  # type: ignore[type-arg]
    """A grade from 0 to 4; null where nothing was graded."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs["choices"] = Grade.choices
        super().__init__(*args, **kwargs)

    def deconstruct(self) -> Any:
        name, path, args, kwargs = super().deconstruct()
        kwargs.pop("choices", None)
        return name, path, args, kwargs
