"""Forms about vehicles that may come. They turn text into types; the rules decide elsewhere."""

from decimal import Decimal
from typing import Any

from django import forms

from inventory.forms.fields import DayInput, MoneyInput, OnceKey, chosen
from inventory.forms.known import KnownConsignorForm
from inventory.forms.media import PicturesField, SeveralFiles
from inventory.forms.terms import TermsForm
from inventory.forms.versioned import SeenForm, VersionedForm
from inventory.rules.floor_words import Declined, ProspectStage
from inventory.rules.prospecting import MOST_CAPTION
from inventory.rules.words import BuildClass, Fitting, InquiryWay, ModificationKind, OdometerStatus, TitleBrand

CONDITION_HELP = (
    "0 to 100, as the owner tells it. About 100: no fault; 75: light wear; 50: worn, serviceable; 25: needs repair."
)
ORIGINALITY_HELP = (
    "0 to 100, as the owner tells it. About 100: all as built; 75: a few parts replaced; 50: about half; "
    "25: mostly changed."
)
TOP_HELP = "Empty where one figure is told."
Groups = tuple[tuple[str, tuple[str, ...]], ...]
PERSON = ("consignor_id", "name", "phone", "email")
WHOSE = ("known", *PERSON)


class ProspectSearch(forms.Form):
    stage = forms.ChoiceField(label="Stage", required=False, choices=chosen(ProspectStage, empty="May still come"))


def _points(label: str, *, help_text: str) -> forms.DecimalField:
    return forms.DecimalField(
        label=label, help_text=help_text, required=False, min_value=0, max_value=100, max_digits=4, decimal_places=1,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )  # fmt: skip


def _ticks(**kwargs: Any) -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(
        required=False, choices=chosen(ModificationKind), widget=forms.CheckboxSelectMultiple, **kwargs
    )


class ToldForm(SeenForm):
    """What an owner tells of a vehicle. Empty means not told."""

    year = forms.IntegerField(label="Model year", help_text="As titled, four digits.")
    make = forms.CharField(label="Make", max_length=60)
    model = forms.CharField(label="Model", max_length=60)
    trim = forms.CharField(label="Trim", required=False, max_length=60)
    body = forms.CharField(label="Body", required=False, max_length=60)
    engine = forms.CharField(label="Engine", required=False, max_length=80)
    transmission = forms.CharField(label="Transmission", required=False, max_length=60)
    color = forms.CharField(label="Colour", required=False, max_length=60)
    build_class = forms.ChoiceField(label="Build class", required=False, choices=chosen(BuildClass, empty="Not told"))
    title_brand = forms.ChoiceField(label="Title brand", required=False, choices=chosen(TitleBrand, empty="Not told"))
    serial = forms.CharField(
        label="VIN or serial, as told", required=False, max_length=40,
        help_text="It is checked as on arrival; what is odd about it is told, and stops nothing here.",
        widget=forms.TextInput(attrs={"autocapitalize": "characters", "autocomplete": "off", "spellcheck": "false"}),
    )  # fmt: skip
    mileage = forms.IntegerField(
        label="Odometer reading, miles", required=False, min_value=0, max_value=2_000_000,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )  # fmt: skip
    odometer_status = forms.ChoiceField(
        label="Odometer status, as told", choices=chosen(OdometerStatus), initial=OdometerStatus.NOT_STATED.value,
        help_text="“Actual” by their word is kept as told; band and booking take it as not stated.",
    )  # fmt: skip
    condition_low = _points("Condition, from", help_text=CONDITION_HELP)
    condition_high = _points("Condition, to", help_text=TOP_HELP)
    originality_low = _points("Originality, from", help_text=ORIGINALITY_HELP)
    originality_high = _points("Originality, to", help_text=TOP_HELP)
    kinds = _ticks(label="What was changed", help_text="Nothing ticked here or below: not told.")
    cut = _ticks(label="Of these, cut or welded", help_text="What is not ticked here is told as bolt-on.")
    unchanged = forms.BooleanField(label="The owner says that nothing was changed", required=False)
    story = forms.CharField(
        label="What the owner tells", required=False, max_length=1800, widget=forms.Textarea(attrs={"rows": 5}),
        help_text="In their words. When it is booked this becomes the internal note.",
    )  # fmt: skip
    hoped_for = MoneyInput(label="Price they hope for", required=False)
    way = forms.ChoiceField(label="How they came", required=False, choices=chosen(InquiryWay, empty="Not said"))
    brought_in_by = forms.TypedChoiceField(label="Brought in by", required=False, coerce=int, empty_value=None)
    follow_up_on = DayInput(label="Follow up on", required=False)

    GROUPS: Groups = (
        ("What it is", ("year", "make", "model", "trim", "body", "engine", "transmission", "color", "build_class",
                        "title_brand", "serial", "mileage", "odometer_status")),
        ("How it is, as the owner tells it",
         ("condition_low", "condition_high", "originality_low", "originality_high", "hoped_for")),
        ("What was changed, as the owner tells it", ("kinds", "cut", "unchanged")),
        ("Their story", ("story",)),
        ("How it goes on", ("way", "brought_in_by", "follow_up_on")),
    )  # fmt: skip

    def __init__(self, *args: Any, staff: list[tuple[int, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["brought_in_by"].choices = [("", "Nobody in particular"), *staff]  # type: ignore[attr-defined]

    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        return [(legend, [self[name] for name in names]) for legend, names in self.GROUPS]

    def told(self) -> dict[str, Any]:
        names = [name for _, names in ToldForm.GROUPS for name in names]
        said = {name: self.cleaned_data[name] for name in names}
        return {**said, "kinds": tuple(said["kinds"]), "cut": tuple(said["cut"])}


class NewProspectForm(KnownConsignorForm, ToldForm):
    name = forms.CharField(
        label="Name", required=False, max_length=120, help_text="Whoever is known by this phone or e-mail is found."
    )
    phone = forms.CharField(label="Phone", required=False, max_length=40, widget=forms.TextInput(attrs={"type": "tel"}))
    email = forms.EmailField(label="E-mail", required=False, max_length=254)
    client_key = OnceKey()

    GROUPS = (("Whose it is", WHOSE), *ToldForm.GROUPS)

    NEW = "Somebody else, given here"
    NOBODY = "Choose a known consignor, or give the owner's name."
    NEW_FIELDS = ("name", "phone", "email")

    def person(self) -> dict[str, Any]:
        return {name: self.cleaned_data[name] for name in PERSON}


class ChangeProspectForm(VersionedForm, ToldForm):
    """All that is told, once more."""


def told_initial(row: Any) -> dict[str, Any]:
    """What the form of one prospect begins with."""
    changes = row.modifications
    names = [name for _, names in ToldForm.GROUPS for name in names]
    return {
        **{name: _plain(getattr(row, name, None)) for name in names},
        "brought_in_by": row.brought_in_by_id,
        "kinds": [kind for kind, _ in changes or ()],
        "cut": [kind for kind, fitting in changes or () if fitting == Fitting.CUT_OR_WELDED],
        "unchanged": changes == [],
        "version": row.version,
    }


def _plain(value: Any) -> Any:
    """Points without needless decimals."""
    return f"{value.normalize():f}" if isinstance(value, Decimal) and value == value.to_integral_value() else value


class ProspectPhotosForm(forms.Form):
    file = PicturesField(
        label="Pictures the owner sent",
        help_text="JPEG, PNG, WebP or HEIC, up to 20 MB each. The place where they were taken is not shown.",
        widget=SeveralFiles(attrs={"accept": "image/*"}),
    )
    caption = forms.CharField(label="Caption", required=False, max_length=MOST_CAPTION)


class ProposedTermsForm(TermsForm):
    """The same terms, without a signature: nothing is signed before the vehicle is booked."""

    signed_by = None  # type: ignore[assignment]
    signed_on = None  # type: ignore[assignment]
    GROUPS = TermsForm.GROUPS[:-1]


class FollowUpForm(VersionedForm):
    follow_up_on = DayInput(label="Follow up on", required=False, help_text="Empty takes it off the list of today.")


class DeclineForm(VersionedForm):
    declined = forms.ChoiceField(label="Who declined", choices=chosen(Declined))
    because = forms.CharField(label="Why", max_length=300)


class OpenAgainForm(VersionedForm):
    """Nothing but the version."""


class BookForm(VersionedForm):
    vin_reason = forms.CharField(
        label="Why the number is right as it stands", required=False, max_length=200,
        help_text="Needed where its check failed: a misheard letter elsewhere, an import without a check digit.",
    )  # fmt: skip
