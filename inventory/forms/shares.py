"""Forms of the shares of a commission, and of the pay report."""

import re
from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms

from inventory.forms.fields import chosen
from inventory.forms.versioned import SeenForm
from inventory.rules.floor_words import StaffPart

_MONTH = re.compile(r"([12][0-9]{3})-(0[1-9]|1[0-2])")


class MonthInput(forms.CharField):
    """A month, as browsers send it: 2026-03. Becomes its first day, or None when empty."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.TextInput(attrs={"type": "month", "placeholder": "2026-03"}))
        super().__init__(max_length=7, **kwargs)

    def clean(self, value: Any) -> Any:
        text = str(super().clean(value) or "").strip()
        if not text:
            return None
        found = _MONTH.fullmatch(text)
        if found is None:
            raise forms.ValidationError("Give a month as year and month, such as 2026-03.", code="month")
        return date(int(found[1]), int(found[2]), 1)


class MonthForm(forms.Form):
    month = MonthInput(label="Month", required=False)


class ShareForm(SeenForm):
    user_id = forms.TypedChoiceField(label="Who", coerce=int)
    part = forms.ChoiceField(label="What they did", choices=chosen(StaffPart))
    percent = forms.DecimalField(
        label="Percent of the lot's commission", required=False, min_value=0, max_value=100, max_digits=5,
        decimal_places=2, help_text="The lot's usual share if left empty; 0 takes a share back.",
    )  # fmt: skip

    def __init__(self, *args: Any, staff: Sequence[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["user_id"].choices = [("", "Choose"), *staff]  # type: ignore[attr-defined]
