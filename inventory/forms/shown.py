"""Where a vehicle is shown, and what is right or gone there."""

from decimal import Decimal
from typing import Any

from django import forms

from inventory.forms.fields import DayInput, MoneyInput, OnceKey
from inventory.forms.versioned import SeenForm, VersionedForm


class ShowForm(SeenForm):
    place = forms.CharField(
        label="Where it is shown", max_length=120, help_text="A page, a paper, a window.",
        widget=forms.TextInput(attrs={"list": "places", "autocomplete": "off"}),
    )  # fmt: skip
    address = forms.URLField(
        label="Address of the page", required=False, max_length=500, assume_scheme="https",
        help_text="Only kept, to be opened by you: nothing is fetched from it.",
    )  # fmt: skip
    since = DayInput(label="Shown since", required=False, help_text="Today if left empty.")
    ask = MoneyInput(label="Ask shown there", required=False, help_text="Empty: it shows none.")
    client_key = OnceKey()

    def __init__(self, data: Any = None, *, ask: Decimal | None) -> None:
        super().__init__(data, initial={"ask": ask})

    def clean_address(self) -> str:
        address: str = self.cleaned_data["address"]
        if address and not address.lower().startswith(("http://", "https://")):
            raise forms.ValidationError("The address of a page begins with http:// or https://.")
        return address


class CorrectForm(VersionedForm):
    """One tap: it is right now, or it is gone. `seen` says which page the tap came from."""

    do = forms.ChoiceField(choices=[("right", "right"), ("down", "down")])
    ask = MoneyInput(label="It shows now", required=False)
    seen = forms.ChoiceField(choices=[("floor", "floor"), ("vehicle", "vehicle")])
