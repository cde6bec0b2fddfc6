"""Forms of the sales elsewhere: what was told, why it is corrected, why it is taken out."""

import uuid
from decimal import Decimal
from typing import Any

from django import forms

from inventory.errors import Refused
from inventory.forms.fields import DayInput, MoneyInput, OnceKey, chosen, once
from inventory.forms.versioned import SeenForm
from inventory.models import MarketSale
from inventory.rules.floor_words import Premium
from inventory.rules.words import BuildClass, OdometerStatus, SaleChannel, TitleBrand
from inventory.sheets import Elsewhere
from inventory.sheets.serials import read_vin
from inventory.sheets.words import read_modifications

SOLD = [("sold", "Sold"), ("bid", "High bid, not accepted")]


class ElsewhereSearch(forms.Form):
    q = forms.CharField(
        label="Find a sale elsewhere",
        help_text="Make, model, year, where it was told, or the last digits of a serial.",
        required=False,
        max_length=100,
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
    )


def _text(label: str, *, most: int = 200, **kwargs: Any) -> forms.CharField:
    return forms.CharField(label=label, required=False, max_length=most, **kwargs)


def _points(label: str) -> forms.DecimalField:
    return forms.DecimalField(
        label=label, required=False, min_value=Decimal(0), max_value=Decimal(100), decimal_places=1
    )


class ElsewhereForm(SeenForm):
    """One sale elsewhere. Empty means not known."""

    source = forms.CharField(
        label="Where it was told", help_text="In your own words, such as: the spring sale at the fairground.",
        max_length=120,
    )  # fmt: skip
    ended_on = DayInput(label="Date")
    sold = forms.ChoiceField(label="How it ended", choices=SOLD)
    price = MoneyInput(label="Price, or the high bid")
    premium = forms.ChoiceField(
        label="Buyer's premium", choices=chosen(Premium), initial=Premium.NOT_SAID.value,
        help_text="What the buyer pays the seller's agent on top; inside the price only where that is said.",
    )  # fmt: skip
    channel = forms.ChoiceField(label="Sold by way of", required=False, choices=chosen(SaleChannel, empty="Not known"))
    year = forms.IntegerField(label="Model year", min_value=1886, max_value=2200)
    make = forms.CharField(label="Make", max_length=200)
    model = forms.CharField(label="Model", max_length=200)
    trim = _text("Trim")
    body = _text("Body")
    engine = _text("Engine")
    transmission = _text("Transmission")
    color = _text("Colour")
    build_class = forms.ChoiceField(
        label="Build class", required=False, choices=chosen(BuildClass, empty="Not known")
    )  # fmt: skip
    title_brand = forms.ChoiceField(
        label="Title brand", required=False, choices=chosen(TitleBrand, empty="Not known")
    )  # fmt: skip
    vin = _text("VIN or serial", most=40)
    mileage_mi = forms.IntegerField(label="Odometer reading, miles", required=False, min_value=0, max_value=2_000_000)
    odometer_status = forms.ChoiceField(
        label="Odometer status", choices=chosen(OdometerStatus), initial=OdometerStatus.NOT_STATED.value
    )
    condition_low = _points("Condition from, 0 to 100")
    condition_high = _points("Condition to")
    originality_low = _points("Originality from, 0 to 100")
    originality_high = _points("Originality to")
    modifications = _text(
        "Modifications", most=2000, help_text="Parted by semicolons; write none where there are said to be none.",
    )  # fmt: skip
    note = _text("Note")
    sure = forms.BooleanField(label="It is another sale all the same", required=False, widget=forms.HiddenInput)
    key = OnceKey()

    def add_error(self, field: str | None, error: Any) -> None:
        """What was told twice is questioned: only then is there something to be sure of."""
        if field == "sure":
            self.fields["sure"].widget = forms.CheckboxInput()
        super().add_error(field, error)

    def clean_vin(self) -> str | None:
        found: str | None = _read(read_vin, text=self.cleaned_data["vin"], field="vin")
        return found

    def clean_modifications(self) -> tuple[str, ...] | None:
        found: tuple[str, ...] | None = _read(
            read_modifications, text=self.cleaned_data["modifications"], field="modifications"
        )
        return found

    def clean(self) -> dict[str, Any]:
        given = self.cleaned_data
        for name in ("condition", "originality"):
            low, high = given.get(f"{name}_low"), given.get(f"{name}_high")
            if (low is None) != (high is None):
                self.add_error(f"{name}_{'low' if low is None else 'high'}", "Give both ends, or neither.")
            elif low is not None and high is not None and low > high:
                self.add_error(f"{name}_high", "The higher end is below the lower one.")
        return given

    def said(self) -> Elsewhere:
        beside = {"sure", "key", "reason"}
        given: dict[str, Any] = {
            name: None if value == "" else value for name, value in self.cleaned_data.items() if name not in beside
        }
        return Elsewhere(**given | {"sold": given["sold"] == "sold"})

    def client_key(self) -> uuid.UUID | None:
        key: uuid.UUID | None = once(self.cleaned_data)["client_key"]
        return key


class CorrectionForm(ElsewhereForm):
    reason = forms.CharField(label="Why it is corrected", max_length=200)


class DropForm(forms.Form):
    reason = forms.CharField(
        label="Why it is taken out", max_length=200, help_text="Such as: the same sale was recorded twice.",
    )  # fmt: skip

    def __init__(self, given: Any = None) -> None:
        super().__init__(given, auto_id="drop_%s")  # beside the form of the correction, which asks for a reason too


def initial_of(row: MarketSale) -> dict[str, Any]:
    """A sale as its form shows it, to be corrected."""
    plain = [name for name in ElsewhereForm.base_fields if hasattr(row, name)]
    changes = row.modifications
    return {
        **{name: getattr(row, name) for name in plain},
        "sold": "sold" if row.sold else "bid",
        "mileage_mi": row.mileage,
        "modifications": "" if changes is None else "; ".join(changes) or "none",
    }


def _read(reader: Any, *, text: str, field: str) -> Any:
    """A text by the reader of the spreadsheets: the same is refused, in the same words."""
    try:
        return reader(text, field=field)
    except Refused as problem:
        raise forms.ValidationError(str(problem), code=problem.code) from problem
