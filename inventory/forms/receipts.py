"""The arrival receipt as a form: one page, two lists of lines, two signatures."""

import uuid
from typing import Any

from django import forms

from inventory.errors import Refused
from inventory.forms.fields import OnceKey, chosen
from inventory.forms.versioned import SeenForm
from inventory.rules.receipts import MOST_KEYS, MOST_LINES
from inventory.rules.signatures import MOST_TEXT, Signature, parse_strokes
from inventory.rules.words import Fuel, OdometerStatus, SignsAs

BLANK_LINES = 5  # enough for most vehicles where no script can add another
NAME = {"autocomplete": "off", "autocapitalize": "words"}
NUMERIC = {"inputmode": "numeric"}


class StrokesField(forms.CharField):
    """What was drawn, as the script writes it: JSON in a hidden field. Drawn again whenever the page comes back."""

    widget = forms.HiddenInput

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(required=False, max_length=MOST_TEXT, **kwargs)

    def to_python(self, value: Any) -> Any:
        try:
            return parse_strokes(str(super().to_python(value) or ""), field="strokes")
        except Refused as problem:
            raise forms.ValidationError(str(problem), code=problem.code) from problem

    def run_validators(self, value: Any) -> None:
        """The drawing itself is judged when it is signed: the length of its text was looked at before."""


class ReceiptForm(SeenForm):
    mileage = forms.IntegerField(
        label="Odometer reading, miles", required=False, min_value=0, max_value=2_000_000,
        widget=forms.NumberInput(attrs=NUMERIC),
    )  # fmt: skip
    file_answer = forms.ChoiceField(
        label="The file says something else",
        required=False,
        choices=[
            ("", "Choose, if it is right as it stands"),
            ("update", "Update the file to this reading and status"),
            ("keep", "Leave the file as it is"),
        ],
    )
    no_reading_reason = forms.CharField(
        label="Why there is no reading", help_text="Instead of a reading.", required=False, max_length=200
    )
    odometer_status = forms.ChoiceField(
        label="Odometer status",
        help_text="As the other side states it. “Actual” only where papers or the vehicle bear it out.",
        choices=chosen(OdometerStatus),
    )
    fuel = forms.ChoiceField(label="Fuel", choices=chosen(Fuel, empty="Choose"))
    keys_count = forms.IntegerField(
        label="How many keys", min_value=0, max_value=MOST_KEYS, widget=forms.NumberInput(attrs=NUMERIC)
    )
    note = forms.CharField(
        label="Note",
        help_text="Printed on the receipt: both sides read it.",
        required=False,
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    handed_over_by = forms.CharField(
        label="Handed over by", help_text="Full name.", max_length=200, widget=forms.TextInput(attrs=NAME)
    )
    signs_as = forms.ChoiceField(label="Signs as", choices=chosen(SignsAs, empty="Choose"))
    giver_strokes = StrokesField()
    giver_typed = forms.BooleanField(label="I sign by typing my name", required=False)
    unsigned_reason = forms.CharField(
        label="Not signed by the other side, because",
        help_text="Only without their signature, as when it was dropped off after hours. It is printed.",
        required=False,
        max_length=200,
    )
    taken_in_by = forms.CharField(
        label="Taken in by", help_text="Full name.", max_length=200, widget=forms.TextInput(attrs=NAME)
    )
    taker_strokes = StrokesField()
    taker_typed = forms.BooleanField(label="I sign by typing my name", required=False)
    replaces = forms.IntegerField(widget=forms.HiddenInput, initial=0)
    key = OnceKey()

    def add_error(self, field: str | None, error: Any) -> None:
        """What is wrong with a drawing is told beside the pad, not at the top of the page."""
        shown = {"giver_strokes": "giver_typed", "taker_strokes": "taker_typed"}.get(field or "", field)
        super().add_error(shown, error)

    @property
    def asks_about_file(self) -> bool:
        """The question comes up only once a reading was sent that differs from the file."""
        return "mileage" in self.errors or bool(self["file_answer"].value())


class DamageLine(forms.Form):
    where = forms.CharField(label="Where", required=False, max_length=60)
    what = forms.CharField(label="What", required=False, max_length=200)

    def clean(self) -> dict[str, Any]:
        given = self.cleaned_data
        for name, other, said in (("where", "what", "Say where."), ("what", "where", "Say what.")):
            if given.get(other) and not given.get(name) and name not in self.errors:
                self.add_error(name, said)
        return given


class ItemLine(forms.Form):
    what = forms.CharField(label="What", required=False, max_length=120)
    count = forms.IntegerField(
        label="Count", required=False, min_value=1, max_value=1000, widget=forms.NumberInput(attrs=NUMERIC)
    )

    def clean(self) -> dict[str, Any]:
        given = self.cleaned_data
        if given.get("count") and not given.get("what") and "what" not in self.errors:
            self.add_error("what", "Say what.")
        if given.get("what") and given.get("count") is None and "count" not in self.errors:
            self.add_error("count", "Say how many.")
        return given


_LINES: dict[str, Any] = {
    "extra": BLANK_LINES, "max_num": MOST_LINES, "validate_max": True, "absolute_max": MOST_LINES + 50,
}  # fmt: skip
DamageLines = forms.formset_factory(DamageLine, **_LINES)
ItemLines = forms.formset_factory(ItemLine, **_LINES)


def first_values(stay: Any, *, earlier: Any, staff: str) -> dict[str, Any]:
    """What the page shows at first: the receipt that counts so far, else what the file says."""
    of = earlier or stay
    shown = {"mileage": of.mileage, "odometer_status": of.odometer_status, "taken_in_by": staff}
    if earlier is None:
        return {**shown, "handed_over_by": stay.consignor.name, "replaces": 0}
    same = ("no_reading_reason", "fuel", "keys_count", "note", "handed_over_by", "signs_as")
    return {**shown, **{name: getattr(earlier, name) for name in same}, "replaces": earlier.number}


def lines(sent: Any, *, earlier: Any) -> tuple[Any, Any]:
    """Both lists. A page that was sent is read by itself: a line that equals one shown before is no empty line."""
    if sent or earlier is None:
        return DamageLines(sent, prefix="damage"), ItemLines(sent, prefix="items")
    noted = [{"where": line.where, "what": line.what} for line in earlier.damage.all()]
    left = [{"what": line.what, "count": line.count} for line in earlier.items.all()]
    return DamageLines(initial=noted, prefix="damage"), ItemLines(initial=left, prefix="items")


def written(form: ReceiptForm, *, damage: Any, items: Any) -> dict[str, Any]:
    """What the action takes; a line with nothing in it is no line."""
    given = dict(form.cleaned_data)
    given.pop("key")
    for side in ("giver", "taker"):
        given[side] = Signature(strokes=given.pop(f"{side}_strokes"), typed=given.pop(f"{side}_typed"))
    noted = [line.cleaned_data for line in damage if line.cleaned_data.get("what")]
    counted = [line.cleaned_data for line in items if line.cleaned_data.get("what")]
    return {
        **given,
        "damage": [(line["where"], line["what"]) for line in noted],
        "items": [(line["what"], line["count"]) for line in counted],
    }


def once(form: ReceiptForm, *, given: dict[str, Any]) -> uuid.UUID | None:
    """The key of the row holds the content too: a form changed and sent again is another receipt."""
    key = form.cleaned_data["key"]
    said = repr(sorted(given.items(), key=lambda item: item[0]))
    return uuid.uuid5(key, said) if key else None
