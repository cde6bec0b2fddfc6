"""What one code means: an entry of the lot's own decoder table."""

from typing import Any

from django import forms

from inventory.forms.fields import OnceKey, WindowInput, check_span_given, chosen, once, span_of
from inventory.forms.ledger import AS_READ, DATE_HINT
from inventory.models import DecoderEntry
from inventory.rules.components import CODED_TITLES
from inventory.rules.date_codes import written
from inventory.rules.words import CodeMatch


class DecoderSearch(forms.Form):
    q = forms.CharField(label="Make, code or meaning", required=False, max_length=80)


class MeaningForm(forms.Form):
    component = forms.ChoiceField(label="Stands on", choices=[("", "Choose"), *CODED_TITLES.items()])
    make = forms.CharField(label="Make", max_length=60)
    from_year = forms.IntegerField(label="Model years from", min_value=1886, max_value=2200)
    to_year = forms.IntegerField(label="Model years to", min_value=1886, max_value=2200)
    written = forms.CharField(
        label="Code", help_text="As it is written; spaces and hyphens do not matter.", max_length=40,
        widget=forms.TextInput(attrs=AS_READ),
    )  # fmt: skip
    match = forms.ChoiceField(label="What is compared", choices=chosen(CodeMatch), initial=CodeMatch.EXACT)
    meaning = forms.CharField(label="What it means", max_length=200)
    earliest_on = WindowInput(label="Means made in", help_text=DATE_HINT, required=False)
    latest_on = WindowInput(label="Or until", help_text="Where it is a span.", required=False)
    source = forms.CharField(
        label="Where that is from", help_text="Book and page, or whose word it is.", max_length=200
    )
    key = OnceKey()

    def clean(self) -> dict[str, Any]:
        check_span_given(self)
        return self.cleaned_data

    def values(self) -> dict[str, Any]:
        return once(span_of(self.cleaned_data))


def initial_of(row: DecoderEntry) -> dict[str, Any]:
    """An entry as its form shows it, to be corrected."""
    plain = ("component", "make", "from_year", "to_year", "written", "match", "meaning", "source")
    first, last = written(row.earliest_on, latest=row.latest_on) if row.earliest_on and row.latest_on else ("", "")
    return {**{name: getattr(row, name) for name in plain}, "earliest_on": first, "latest_on": last}
