"""Forms of the directory: search, what was said, corrections, merging, erasing."""

from collections.abc import Sequence
from typing import Any

from django import forms

from inventory.forms.fields import DayInput, OnceKey, chosen
from inventory.forms.versioned import SeenForm, VersionedForm
from inventory.rules.floor_words import Direction, NoteWay
from inventory.rules.merging import Difference

PEOPLE = [("", "Everybody"), ("consignors", "Consignors"), ("contacts", "Contacts")]


class PeopleSearch(forms.Form):
    q = forms.CharField(
        label="Find somebody", required=False, max_length=120, help_text="Name, e-mail, or digits of a phone number.",
        widget=forms.TextInput(attrs={"type": "search"}),
    )  # fmt: skip
    kind = forms.ChoiceField(label="Who", required=False, choices=PEOPLE)
    doubles = forms.BooleanField(label="Likely doubles alone", required=False)


class NoteForm(SeenForm):
    way = forms.ChoiceField(label="How", choices=chosen(NoteWay))
    direction = forms.ChoiceField(label="Direction", choices=chosen(Direction))
    text = forms.CharField(label="What was said", max_length=2000, widget=forms.Textarea(attrs={"rows": 3}))
    consignment_id = forms.TypedChoiceField(label="About which vehicle", coerce=int, required=False, empty_value=None)
    on = DayInput(label="Date", required=False, help_text="Today if left empty.")
    client_key = OnceKey()

    def __init__(self, *args: Any, stays: Sequence[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["consignment_id"].choices = [("", "None"), *stays]  # type: ignore[attr-defined]


class ContactForm(VersionedForm):
    name = forms.CharField(label="Name", max_length=120)
    email = forms.EmailField(label="E-mail", required=False, max_length=254)
    phone = forms.CharField(label="Phone", required=False, max_length=40)
    note = forms.CharField(
        label="Internal note", required=False, max_length=1000, widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Seen by sales staff and the owner alone. It is part of what is handed out on request.",
    )  # fmt: skip

    def values(self) -> dict[str, str]:
        return {name: value for name, value in self.cleaned_data.items() if name != "version"}


class ConsignorForm(ContactForm):
    address = forms.CharField(
        label="Address", required=False, max_length=300, widget=forms.Textarea(attrs={"rows": 3}),
        help_text="As it stands on papers.",
    )  # fmt: skip
    field_order = ("version", "name", "email", "phone", "address", "note")


CORRECTIONS = {"consignors": ConsignorForm, "contacts": ContactForm}


class MergeForm(SeenForm):
    """Which data goes on, where the two say different things."""

    double = forms.UUIDField(widget=forms.HiddenInput)
    version = forms.IntegerField(widget=forms.HiddenInput)
    double_version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, differences: Sequence[Difference], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for one in differences:
            self.fields[f"keep_{one.field}"] = forms.ChoiceField(
                label=f"{one.label} that is kept", choices=[("kept", one.kept), ("other", one.other)],
                initial="kept", widget=forms.RadioSelect,
            )  # fmt: skip

    def taken(self) -> list[str]:
        """The columns whose data is the double's."""
        prefix = "keep_"
        return [name.removeprefix(prefix) for name, value in self.cleaned_data.items() if value == "other"]


class EraseForm(SeenForm):
    sure = forms.BooleanField(label="I have read what is emptied. It cannot be undone.")
