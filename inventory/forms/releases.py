"""Forms about what leaves the lot, and about whose name stands on the papers of a deal."""

from typing import Any

from django import forms

from inventory.forms.fields import DayInput, OnceKey
from inventory.forms.receipts import NAME, NUMERIC, StrokesField
from inventory.forms.versioned import SeenForm, VersionedForm
from inventory.rules.receipts import MOST_KEYS
from inventory.rules.signatures import Signature

TODAY = "Today if left empty."


class ReleaseForm(VersionedForm):
    """Whoever collects the vehicle, with what, and how they signed."""

    signed_for_by = forms.CharField(
        label="Collected by", help_text="Full name, as on their photo identity.", max_length=120,
        widget=forms.TextInput(attrs=NAME),
    )  # fmt: skip
    collector = forms.ChoiceField(label="In what capacity")
    note = forms.CharField(
        label="Note", required=False, max_length=500, widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Printed. For an agent or a carrier: who sent them, and how you checked it.",
    )  # fmt: skip
    mileage = forms.IntegerField(
        label="Odometer reading, miles", required=False, min_value=0, max_value=2_000_000,
        widget=forms.NumberInput(attrs=NUMERIC),
    )  # fmt: skip
    keys_count = forms.IntegerField(
        label="How many keys", required=False, min_value=0, max_value=MOST_KEYS,
        widget=forms.NumberInput(attrs=NUMERIC),
    )  # fmt: skip
    on = DayInput(label="Date", required=False, help_text=TODAY)
    handed_over_by = forms.CharField(
        label="Handed over by", help_text="Full name, for the lot.", max_length=120, widget=forms.TextInput(attrs=NAME)
    )
    strokes = StrokesField()
    typed = forms.BooleanField(label="I sign by typing my name", required=False)
    client_key = OnceKey()

    def __init__(self, data: Any = None, *, leaving: Any, staff: str, version: int) -> None:
        first = {"signed_for_by": leaving.to, "handed_over_by": staff, "version": version}
        super().__init__(data, initial=first)
        choices = [("", "Choose"), *((word.value, word.label.capitalize()) for word in leaving.collectors)]
        self.fields["collector"].choices = choices  # type: ignore[attr-defined]

    def add_error(self, field: str | None, error: Any) -> None:
        """What is wrong with a drawing is told beside the pad."""
        super().add_error("typed" if field == "strokes" else field, error)

    def given(self) -> dict[str, Any]:
        """What the action takes: the release itself, and the receipt of it."""
        said = dict(self.cleaned_data)
        signature = Signature(strokes=said.pop("strokes"), typed=said.pop("typed"))
        release = {name: said.pop(name) for name in ("signed_for_by", "on", "version")}
        return {"release": release, "receipt": {**said, "signature": signature}}


class SendPaperForm(SeenForm):
    """A title paper that goes out to somebody else than the buyer."""

    paper = forms.TypedChoiceField(label="Paper", coerce=int)
    to_whom = forms.CharField(label="Sent to", max_length=120, help_text="A lender, an authority, the consignor.")
    way = forms.CharField(
        label="How it was sent", max_length=120, required=False, help_text="By mail with its tracking number, by hand."
    )
    on = DayInput(label="Date", required=False, help_text=TODAY)

    def __init__(self, data: Any = None, *, papers: Any) -> None:
        super().__init__(data)
        told = [(row.pk, f"{row}, {row.get_standing_display()}, seen {row.seen_on}") for row in papers]
        self.fields["paper"].choices = [("", "Choose"), *told]  # type: ignore[attr-defined]


class BuyerForm(VersionedForm):
    """The buyer as the papers of the deal name them."""

    buyer = forms.CharField(label="Buyer's full legal name", max_length=120)
    address = forms.CharField(label="Buyer's address", max_length=300, widget=forms.Textarea(attrs={"rows": 3}))

    def __init__(self, data: Any = None, *, deal: Any, version: int) -> None:
        first = {"buyer": deal.buyer, "address": deal.address, "version": version}
        super().__init__(data, initial=first, auto_id="buyer-%s")
