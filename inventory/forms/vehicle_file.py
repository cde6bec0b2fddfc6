"""What is written into a vehicle's file: numbers, papers, modifications, photos, place, corrections."""

from datetime import date
from typing import Any

from django import forms

from inventory.forms.fields import DayInput, MoneyInput, OnceKey, chosen
from inventory.forms.versioned import SeenForm, VersionedForm
from inventory.rules.components import COMPONENT_TITLES
from inventory.rules.words import (
    Basis,
    BuildClass,
    Era,
    Fitting,
    Grade,
    IdentityKind,
    ModificationKind,
    NameJoin,
    OdometerStatus,
    OwnerKind,
    PaperStanding,
    SigningRight,
    TitleBrand,
    TitleKind,
)

BASIS_HINT = "What the statement rests on."
FOR_SALE_THERE = (("", "As the place has it"), ("on", "Not for sale there"), ("off", "For sale all the same"))


class IdentityNumberForm(forms.Form):
    kind = forms.ChoiceField(label="Read off", choices=chosen(IdentityKind, empty="Choose"))
    value = forms.CharField(
        label="Number",
        help_text="As it stands there; spaces and hyphens do not matter.",
        max_length=40,
        widget=forms.TextInput(attrs={"autocapitalize": "characters", "autocomplete": "off", "spellcheck": "false"}),
    )
    place = forms.CharField(
        label="Where it was read",
        help_text="For instance: left frame rail behind the front wheel.",
        required=False,
        max_length=80,
    )
    basis = forms.ChoiceField(label="Basis", help_text=BASIS_HINT, choices=chosen(Basis, empty="Choose"))
    note = forms.CharField(label="Note", required=False, max_length=200)


class ResolveIdentityForm(SeenForm):
    """The owner's word on numbers that do not agree. It carries the question that was read."""

    question = forms.CharField(widget=forms.HiddenInput, max_length=600)
    reason = forms.CharField(
        label="Why it may be offered although the numbers differ",
        help_text="What you saw and which papers bear it out. It stays in the log.",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    key = OnceKey()


class TitlePaperForm(forms.Form):
    kind = forms.ChoiceField(label="Paper", choices=chosen(TitleKind, empty="Choose"))
    standing = forms.ChoiceField(
        label="Standing",
        help_text="“Read” only with the paper itself in hand: papers can be false too. A record that was wrong is made "
        "again as “doubted”.",
        choices=chosen(PaperStanding, empty="Choose"),
    )
    number = forms.CharField(label="Its number", required=False, max_length=60)
    name_on_paper = forms.CharField(
        label="Name on the paper", help_text="Exactly as it stands there.", required=False, max_length=120
    )
    more_names = forms.CharField(
        label="Further names on it", help_text="With a semicolon between them.", required=False, max_length=200
    )
    names_joined = forms.ChoiceField(
        label="How the names are joined", required=False, choices=chosen(NameJoin, empty="Not looked at")
    )
    owner_kind = forms.ChoiceField(
        label="Who that is", required=False, choices=chosen(OwnerKind, empty="Not looked at")
    )
    signer = forms.CharField(
        label="Who may sign for them", help_text="If somebody else signs, or signs with another form of the name.",
        required=False, max_length=120,
    )  # fmt: skip
    signs_by = forms.ChoiceField(label="By what right", required=False, choices=chosen(SigningRight, empty="Nobody"))
    in_hand_since = DayInput(
        label="In the lot's hands since", help_text="Empty while it is elsewhere, with a lender, say.", required=False
    )
    place = forms.CharField(label="Issued in", required=False, max_length=60)
    seen_on = DayInput(label="Seen on", help_text="Empty means today.", required=False)


class ModificationForm(forms.Form):
    """A deliberate change. The key makes a form that is sent twice count once."""

    what = forms.CharField(label="What was changed", max_length=200)
    kind = forms.ChoiceField(label="Kind", choices=chosen(ModificationKind), widget=forms.RadioSelect)
    fitting = forms.ChoiceField(
        label="Fitting",
        help_text="Bolt-on comes off again; cut or welded does not, and costs more originality.",
        choices=chosen(Fitting),
        widget=forms.RadioSelect,
    )
    workmanship = forms.TypedChoiceField(
        label="Workmanship",
        required=False,
        coerce=int,
        empty_value=None,
        choices=[("", "Not judged"), *((grade, f"{grade} · {label}") for grade, label in Grade.choices)],
        widget=forms.RadioSelect,
    )
    basis = forms.ChoiceField(label="Basis", help_text=BASIS_HINT, choices=chosen(Basis), widget=forms.RadioSelect)
    where = forms.CharField(label="Where on the vehicle", required=False, max_length=120)
    material = forms.CharField(label="Material", required=False, max_length=80)
    era = forms.ChoiceField(
        label="When it was done", help_text="Period: in the vehicle's own time.", required=False, choices=chosen(Era),
        initial=Era.NOT_KNOWN, widget=forms.RadioSelect,
    )  # fmt: skip
    papers = forms.BooleanField(label="Papers seen", required=False)
    cost_told = MoneyInput(label="Cost, as told", required=False)
    components = forms.MultipleChoiceField(
        label="Components it changes",
        help_text="Lines of the ledger that are no longer as the factory made them.",
        required=False,
        choices=list(COMPONENT_TITLES.items()),
        widget=forms.CheckboxSelectMultiple,
    )
    key = OnceKey()

    def clean_era(self) -> str:
        return self.cleaned_data["era"] or Era.NOT_KNOWN


class PlaceForm(forms.Form):
    place = forms.CharField(
        label="Where it stands", help_text="A place of the lot by its name, or any other in words.", max_length=60
    )
    keys = forms.CharField(label="Who has the keys", help_text="A name or a hook.", required=False, max_length=60)
    not_for_sale = forms.TypedChoiceField(
        label="For sale while it is there",
        help_text="Days on which it is not for sale do not count as days exposed.",
        choices=FOR_SALE_THERE,
        required=False,
        coerce=lambda said: said == "on",
        empty_value=None,
    )
    expected_back_on = DayInput(label="Expected back", required=False)
    note = forms.CharField(label="Note on the move", required=False, max_length=200)
    key = OnceKey()


class PartForm(VersionedForm):
    """One part of the page that corrects; `version` is that of the row the part is about."""

    part = forms.CharField(widget=forms.HiddenInput)

    def values(self) -> dict[str, Any]:
        return {name: value for name, value in self.cleaned_data.items() if name not in {"part", "version"}}


class CorrectVehicleForm(PartForm):
    vin = forms.CharField(label="VIN or serial", required=False, max_length=40)
    vin_reason = forms.CharField(
        label="Why the number is right as it stands",
        help_text="For a number whose check failed.",
        required=False,
        max_length=200,
    )
    year = forms.IntegerField(label="Model year", help_text="As titled.")
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


class CorrectStayForm(PartForm):
    mileage = forms.IntegerField(label="Odometer reading, miles", required=False, min_value=0, max_value=2_000_000)
    odometer_status = forms.ChoiceField(
        label="Odometer status",
        help_text="“Actual” only where papers or the vehicle bear it out. Disclosure rules differ: check local law.",
        choices=chosen(OdometerStatus),
    )
    arrived_on = DayInput(label="Arrived on", required=False)
    note = forms.CharField(
        label="Internal note",
        help_text="Never shown to the consignor or to buyers.",
        required=False,
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def clean_arrived_on(self) -> date | None:
        """The arrival is corrected here, never made or undone: a state belongs to it."""
        given: date | None = self.cleaned_data["arrived_on"]
        if given and not self.initial["arrived_on"]:
            raise forms.ValidationError("It is only booked. Say in its file that it has arrived, then mend the date.")
        if self.initial["arrived_on"] and not given:
            raise forms.ValidationError("It has arrived. Give the right date.")
        return given


class CorrectConsignorForm(PartForm):
    name = forms.CharField(label="Name", max_length=120)
    email = forms.EmailField(label="E-mail", required=False, max_length=254)
    phone = forms.CharField(label="Phone", required=False, max_length=40)
    address = forms.CharField(
        label="Address", required=False, max_length=1000, widget=forms.Textarea(attrs={"rows": 3})
    )


class ArrivedForm(PartForm):
    """A booked vehicle is here. Nothing else to say."""


def initial_of(form: type[PartForm], *, row: Any, part: str) -> dict[str, Any]:
    """What a part shows at first: the row's own columns. The number is the vehicle's serial."""
    names = set(form.base_fields) - {"part", "vin", "vin_reason"}
    shown = {name: getattr(row, name) for name in names}
    if "vin" in form.base_fields:
        shown |= {"vin": row.serial, "vin_reason": row.serial_reason}
    return {**shown, "part": part}
