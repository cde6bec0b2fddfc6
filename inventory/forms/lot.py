"""The search of the lot screen, and an arriving vehicle."""

from typing import Any

from django import forms

from inventory.forms.fields import DayInput, chosen
from inventory.forms.known import KnownConsignorForm
from inventory.rules.states import State
from inventory.rules.words import BuildClass, IdentityKind, OdometerStatus, TitleBrand


class LotSearch(forms.Form):
    """One box for everything that names a vehicle or its people."""

    q = forms.CharField(
        label="Search",
        help_text="Stock number, last digits of any of its numbers, key tag, make, name, phone or buyer.",
        required=False,
        max_length=100,
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
    )
    state = forms.ChoiceField(label="State", required=False, choices=chosen(State, empty="Any state"))
    today = forms.BooleanField(label="Only what needs a person today", required=False)
    gone = forms.BooleanField(label="Also vehicles that have left", required=False)


class VehicleForm(forms.Form):
    """What is known of a vehicle when it comes, or is booked to come. Empty means not known."""

    vin = forms.CharField(
        label="VIN or serial",
        help_text="As on the plate. Spaces and hyphens do not matter; an early serial is taken as written.",
        required=False,
        max_length=40,
        widget=forms.TextInput(attrs={"autocapitalize": "characters", "autocomplete": "off", "spellcheck": "false"}),
    )
    vin_reason = forms.CharField(
        label="Why the number is right as it stands",
        help_text="For a number whose check failed: a misread plate elsewhere, an import without a check digit.",
        required=False,
        max_length=200,
    )
    vin_read_off = forms.ChoiceField(
        label="Read off", choices=chosen(IdentityKind), initial=IdentityKind.DASH_PLATE.value
    )
    year = forms.IntegerField(label="Model year", help_text="As titled, four digits.")
    year_built = forms.IntegerField(label="Year built", help_text="Only where it is known.", required=False)
    make = forms.CharField(label="Make", max_length=60)
    model = forms.CharField(label="Model", max_length=60)
    trim = forms.CharField(label="Trim", required=False, max_length=60)
    body = forms.CharField(label="Body", required=False, max_length=60)
    engine = forms.CharField(label="Engine", required=False, max_length=80)
    transmission = forms.CharField(label="Transmission", required=False, max_length=60)
    color = forms.CharField(label="Colour", required=False, max_length=60)
    build_class = forms.ChoiceField(
        label="Build class", required=False, choices=chosen(BuildClass, empty="Not known yet")
    )
    title_brand = forms.ChoiceField(
        label="Title brand", required=False, choices=chosen(TitleBrand, empty="Not known yet")
    )
    mileage = forms.IntegerField(
        label="Odometer reading, miles", required=False, min_value=0, max_value=2_000_000,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )  # fmt: skip
    odometer_status = forms.ChoiceField(
        label="Odometer status",
        help_text="“Actual” only where papers or the vehicle bear it out. Disclosure rules differ: check local law.",
        choices=chosen(OdometerStatus),
        initial=OdometerStatus.NOT_STATED.value,
    )
    booked_only = forms.BooleanField(label="Booked only, not here yet", required=False)
    arrived_on = DayInput(label="Arrived on", help_text="Empty means today.", required=False)
    note = forms.CharField(
        label="Internal note",
        help_text="Never shown to the consignor or to buyers.",
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def clean(self) -> dict[str, Any]:
        given = self.cleaned_data
        if given.get("booked_only") and given.get("arrived_on"):
            self.add_error("arrived_on", "A vehicle that is only booked has not arrived. Leave the date empty.")
        return given


class ArrivalForm(KnownConsignorForm, VehicleForm):
    """The same, and whose it is."""

    consignor_name = forms.CharField(label="Name of a new consignor", required=False, max_length=120)
    consignor_email = forms.EmailField(label="E-mail", required=False, max_length=254)
    consignor_phone = forms.CharField(
        label="Phone", required=False, max_length=40, widget=forms.TextInput(attrs={"type": "tel"})
    )

    NEW = "A new one, given below"
    NOBODY = "Choose a known consignor above, or give the name of a new one."
    NEW_FIELDS = ("consignor_name", "consignor_email", "consignor_phone")
