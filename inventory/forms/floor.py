"""Places, moves, keys and tags."""

from typing import Any

from django import forms

from inventory.forms.fields import OnceKey, chosen
from inventory.forms.vehicle_file import PlaceForm
from inventory.forms.versioned import SeenForm, VersionedForm
from inventory.rules.floor_words import PlaceKind


class MoveForm(SeenForm, PlaceForm):
    """A move by one tap: the button of a place says where to; another place is written."""

    place = forms.CharField(
        label="Another place", help_text="For a place that was not set up.", required=False, max_length=60
    )
    place_id = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def clean(self) -> dict[str, Any]:
        given: dict[str, Any] = super().clean() or {}
        if not self.errors and not given.get("place") and given.get("place_id") is None:
            self.add_error("place", "Tap a place, or write where it stands.")
        return given


class KeysForm(SeenForm):
    keys = forms.CharField(label="Who has the keys now", help_text="A name or a hook.", max_length=60)
    note = forms.CharField(label="Note on the keys", required=False, max_length=200)
    key = OnceKey()


class KeyTagForm(VersionedForm):
    key_tag = forms.CharField(
        label="Tag on the keys", help_text="Each tag hangs on one vehicle's keys. Empty takes it off.", required=False,
        max_length=20, widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip


class NewPlaceForm(SeenForm):
    name = forms.CharField(label="Name", max_length=60)
    kind = forms.ChoiceField(label="What it is", choices=chosen(PlaceKind))
    not_for_sale = forms.BooleanField(
        label="What stands there is not for sale", help_text="Such days do not count as days exposed.", required=False
    )
    order = forms.IntegerField(
        label="Place on the sheet", help_text="Smaller numbers come first.", required=False, min_value=0,
        max_value=32000, widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )  # fmt: skip

    def clean_order(self) -> int:
        return self.cleaned_data["order"] or 0


class ChangePlaceForm(VersionedForm, NewPlaceForm):
    retired = forms.BooleanField(
        label="No longer in use", help_text="Its past moves stay. Nothing may stand there.", required=False
    )

    def values(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in ("name", "kind", "not_for_sale", "order")}


class SheetForm(forms.Form):
    """Which place to look at or to print; all of them where none is chosen."""

    place = forms.ChoiceField(label="Place", required=False)

    def __init__(self, *args: Any, places: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["place"].choices = [("", "All places"), *((name, name) for name in places)]  # type: ignore[attr-defined]
