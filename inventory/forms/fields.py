"""Form fields of the house: text to types, and nothing that decides."""

import uuid
from decimal import Decimal
from typing import Any

from django import forms

from inventory.errors import Refused
from inventory.rules import money
from inventory.rules.date_codes import window


class MoneyInput(forms.CharField):
    """An amount as people type it: 42500, 42,500.00 or $42,500. Becomes a Decimal, or None when empty."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}))
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> Any:
        text = str(super().to_python(value) or "").strip()
        if not text:
            return None
        try:
            return money.check_amount(money.parse(text, field=str(self.label or "amount")), field="amount")
        except Refused as problem:
            raise forms.ValidationError(str(problem), code=problem.code) from problem

    def validate(self, value: Any) -> None:
        if value is None and self.required:
            raise forms.ValidationError("Give an amount.", code="required")

    def prepare_value(self, value: Any) -> Any:
        return f"{value:,.2f}" if isinstance(value, Decimal) else value


class DayInput(forms.DateField):
    """A date, by the browser's own picker."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
        super().__init__(**kwargs)


class WindowInput(forms.CharField):
    """A day, a month or a year as people write it. Becomes its first and last day, or None when empty."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 10)
        kwargs.setdefault("widget", forms.TextInput(attrs={"autocomplete": "off", "inputmode": "text"}))
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> Any:
        text = str(super().to_python(value) or "").strip()
        return text or None

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        try:
            return window(text) if text else None
        except Refused as problem:
            raise forms.ValidationError(str(problem), code=problem.code) from problem


class OnceKey(forms.UUIDField):
    """A hidden key made when the form is shown: sent twice, the form counts once."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(widget=forms.HiddenInput, required=False, initial=uuid.uuid4, **kwargs)


def once(given: dict[str, Any]) -> dict[str, Any]:
    """What the action takes. The key it gets holds the content too: a form changed and sent again is another row."""
    values = dict(given)
    key = values.pop("key")
    said = repr(sorted(values.items(), key=lambda item: item[0]))
    return {**values, "client_key": uuid.uuid5(key, said) if key else None}


def span_of(given: dict[str, Any]) -> dict[str, Any]:
    """The fields `earliest_on` and `latest_on` as the first and the last day; one of them alone is the whole span."""
    first, last = given["earliest_on"], given["latest_on"]
    if first is None:
        return {**given, "latest_on": None}
    return {**given, "earliest_on": first[0], "latest_on": (last or first)[1]}


def check_span_given(form: forms.Form) -> None:
    """An end without a beginning is told on its field."""
    given = form.cleaned_data
    if given.get("latest_on") and not given.get("earliest_on") and "earliest_on" not in form.errors:
        form.add_error("earliest_on", "Give the beginning too.")


def chosen(words: Any, *, empty: str | None = None) -> list[tuple[Any, str]]:
    """The choices of an enumeration, with an empty one in front where nothing need be said."""
    choices = [(value, label[:1].upper() + label[1:]) for value, label in words.choices]
    return choices if empty is None else [("", empty), *choices]
