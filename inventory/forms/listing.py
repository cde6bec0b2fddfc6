"""The description as text areas: one for each section, one sentence a line."""

from typing import Any

from django import forms

from inventory.forms.fields import chosen
from inventory.forms.versioned import SeenForm
from inventory.queries.listing import ListingPage
from inventory.rules.listing import SECTIONS
from inventory.rules.words import ListingTone


class ListingForm(SeenForm):
    """`after` is the version that the page showed; sections are read from fields of their own codes."""

    tone = forms.ChoiceField(label="Tone of what the record writes", choices=chosen(ListingTone))
    after = forms.IntegerField(widget=forms.HiddenInput, min_value=0)

    def __init__(self, given: Any = None, *, page: ListingPage) -> None:
        latest = page.versions[0].number if page.versions else 0
        super().__init__(given, initial={"tone": page.tone, "after": latest})
        for section in page.sections:
            self.fields[section.code] = _area(section.title)
            first = section.kept if page.shown else section.draft
            self.initial[section.code] = "\n".join(one.text for one in first.sentences) if first else ""

    def lines(self) -> dict[str, list[str]]:
        """What was typed, by section, one sentence a line."""
        return {
            name: self.cleaned_data[name].splitlines() for name in self.fields if name in SECTIONS
        }  # fmt: skip


def _area(title: str) -> forms.CharField:
    widget = forms.Textarea(attrs={"rows": 6})
    return forms.CharField(label=title, required=False, max_length=20_000, widget=widget)


class PublishForm(SeenForm):
    after = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
