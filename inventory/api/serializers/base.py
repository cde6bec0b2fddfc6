"""Fields and shapes that all serializers share. They turn text into types; they decide nothing and save nothing."""

import re
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import TextChoices
from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError

CENT = Decimal("0.01")
FIRST_DAY, LAST_DAY = date(1886, 1, 1), date(2199, 12, 31)
LARGEST_ID = 2**63 - 1

_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", re.ASCII)
_AMOUNT = re.compile(r"-?[0-9]{1,12}(\.[0-9]{1,6})?", re.ASCII)


# What a field is in JSON, and what is said to anything else: no "3" for 3, no 1 for true, no money that was a float.
JSON_KINDS: tuple[tuple[type[serializers.Field[Any, Any, Any, Any]], type, str], ...] = (
    (serializers.BooleanField, bool, "Give true or false."),
    (serializers.IntegerField, int, "Give a whole number."),
    (serializers.CharField, str, "Give text."),
    (serializers.DateField, str, "Give a date as text, such as “2026-03-16”."),
    (serializers.UUIDField, str, "Give a code as text."),
    (serializers.DecimalField, str, "Give a number as text, such as “48500.00”."),
)


class Given(serializers.Serializer[Any]):
    """A body as it comes in. A name that is not known is refused: nothing is dropped in silence."""

    def to_internal_value(self, data: Any) -> Any:
        if isinstance(data, Mapping):
            self._refuse_other_kinds(data)
            known = {str(field.field_name) for field in self._writable_fields}
            unknown = sorted(str(name)[:60] for name in data if name not in known)[:20]
            if unknown:
                said = ErrorDetail(f"There is no such field here. Known are: {', '.join(sorted(known))}.", "unknown")
                raise ValidationError({name: [said] for name in unknown})
        return super().to_internal_value(data)

    def _refuse_other_kinds(self, data: Mapping[str, Any]) -> None:
        """Parameters of an address are text and are read as such (`in_text`)."""
        if self.context.get("in_text"):
            return
        faults = {
            name: [ErrorDetail(said, "invalid")]
            for field in self._writable_fields
            if (value := data.get(name := str(field.field_name))) is not None
            and (said := kind_fault(field, value=value))
        }
        if faults:
            raise ValidationError(faults)


def kind_fault(field: serializers.Field[Any, Any, Any, Any], *, value: Any) -> str:
    """What is to be said where a value of JSON is of another kind than the field; of a list, of any of its values."""
    if isinstance(field, serializers.ListField):
        inner = value if isinstance(value, list) else []
        return next((said for one in inner if (said := kind_fault(field.child, value=one))), "")
    found = next(((kind, said) for known, kind, said in JSON_KINDS if isinstance(field, known)), None)
    return found[1] if found and type(value) is not found[0] else ""


class Nothing(Given):
    """A body without fields."""


class Shown(serializers.ModelSerializer[Any]):
    """A row as it goes out."""


class Money(serializers.DecimalField):
    """An amount as text with at most two decimals, above zero unless it says otherwise."""

    default_error_messages = {"invalid": 'Give an amount such as "48500.00".'}

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("min_value", CENT)
        super().__init__(max_digits=12, decimal_places=2, **kwargs)

    def to_internal_value(self, data: Any) -> Decimal:
        if isinstance(data, str) and not _AMOUNT.fullmatch(data.strip()):
            self.fail("invalid")
        return super().to_internal_value(data)


class Amount(serializers.DecimalField):
    """An amount as it goes out: text with two decimals. A sum may have more digits than any of its parts."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_digits=18, decimal_places=2, read_only=True, **kwargs)


class Day(serializers.DateField):
    """A date of trade."""

    default_error_messages = {"out_of_range": f"Give a date from {FIRST_DAY} to {LAST_DAY}."}

    def to_internal_value(self, value: Any) -> date:
        if not isinstance(value, str) or not _DAY.fullmatch(value):  # not 20260316 nor a day of a week
            self.fail("invalid", format="YYYY-MM-DD")
        day: date = super().to_internal_value(value)
        if not FIRST_DAY <= day <= LAST_DAY:
            self.fail("out_of_range")
        return day


class Word(serializers.ChoiceField):
    """One word of an enumeration."""

    def __init__(self, words: type[TextChoices], **kwargs: Any) -> None:
        self.words = words
        super().__init__(choices=words.choices, **kwargs)
        self.error_messages["invalid_choice"] = f"This is not one of: {', '.join(words.values)}."


class Text(serializers.CharField):
    """A line of text; what is optional may be empty."""

    def __init__(self, most: int, **kwargs: Any) -> None:
        kwargs.setdefault("allow_blank", kwargs.get("required") is False)
        super().__init__(max_length=most, **kwargs)


class Version(serializers.IntegerField):
    """The version of the row that the caller looked at."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("min_value", 1)
        kwargs.setdefault("max_value", 2**31 - 1)
        kwargs.setdefault("help_text", "The version you looked at; another one now is answered with 409.")
        super().__init__(**kwargs)


class RowId(serializers.IntegerField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(min_value=1, max_value=LARGEST_ID, **kwargs)


class Person(serializers.CharField):
    """Who of the staff did it, by name; null where a program did."""

    def __init__(self) -> None:
        super().__init__(read_only=True, allow_null=True)


class Versioned(Given):
    """A move that may say which version it was decided on."""

    version = Version(required=False)


class ProblemError(serializers.Serializer[Any]):
    code = serializers.CharField()
    field = serializers.CharField(help_text="Empty where no one field is to blame.")
    message = serializers.CharField()


class Problem(serializers.Serializer[Any]):
    """Problem details (RFC 9457)."""

    type = serializers.CharField()
    title = serializers.CharField()
    status = serializers.IntegerField()
    detail = serializers.CharField()
    errors = ProblemError(many=True)  # type: ignore[assignment]
    request = serializers.CharField(help_text="The number of this answer, for whoever looks into it.")
    current_version = serializers.IntegerField(required=False)
