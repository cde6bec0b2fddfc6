"""Incidents: what happened, pictures of it, and what was done."""

from typing import Any

from django import forms

from inventory.forms.fields import DayInput, OnceKey, chosen
from inventory.forms.media import PicturesField, SeveralFiles
from inventory.forms.versioned import SeenForm
from inventory.rules.floor_words import IncidentKind, IncidentStepKind


class PicturesForm(SeenForm):
    file = PicturesField(
        label="Pictures",
        help_text="JPEG, PNG, WebP or HEIC, up to 20 MB each. They are shown to staff only.",
        required=False,
        widget=SeveralFiles(attrs={"accept": "image/*"}),
    )

    def pictures(self) -> list[Any]:
        given: list[Any] = self.cleaned_data.get("file") or []
        return given


class IncidentForm(PicturesForm):
    kind = forms.ChoiceField(label="Kind", choices=chosen(IncidentKind, empty="Choose"))
    what = forms.CharField(
        label="What happened", max_length=2000, widget=forms.Textarea(attrs={"rows": 4}),
        help_text="What you saw, not what you guess. Who was there.",
    )  # fmt: skip
    where = forms.CharField(label="Where", required=False, max_length=120)
    on = DayInput(label="Date", required=False, help_text="Today if left empty.")
    key = OnceKey()

    field_order = ("kind", "what", "where", "on", "file", "key")


class StepForm(SeenForm):
    kind = forms.ChoiceField(label="What was done")
    text = forms.CharField(
        label="To whom, how, what was said", required=False, max_length=500, widget=forms.Textarea(attrs={"rows": 2}),
        help_text="For a note, for closing and for opening again it is needed.",
    )  # fmt: skip
    on = DayInput(label="Date", required=False, help_text="Today if left empty.")
    key = OnceKey()

    def __init__(self, data: Any = None, *, steps: list[IncidentStepKind], auto_id: str = "step_%s") -> None:
        super().__init__(data, auto_id=auto_id)
        self.fields["kind"].choices = [(one.value, one.label.capitalize()) for one in steps]  # type: ignore[attr-defined]


class MorePicturesForm(PicturesForm):
    def clean(self) -> dict[str, Any]:
        given: dict[str, Any] = super().clean() or {}
        if not self.errors and not self.pictures():
            self.add_error("file", "Choose at least one picture.")
        return given
