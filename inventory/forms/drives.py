"""A test drive: going out, signed on the screen, and coming back."""

from typing import Any

from django import forms

from inventory.forms.fields import DayInput, OnceKey
from inventory.forms.receipts import NAME, NUMERIC, StrokesField
from inventory.forms.sale_desk import APART, PHONE
from inventory.forms.versioned import SeenForm, VersionedForm
from inventory.rules.signatures import Signature

_REACH = ("phone", "email")


class TakeOutForm(SeenForm):
    """Whoever drives, what was seen of their licence, and how they signed."""

    inquiry = forms.TypedChoiceField(label="Out of which inquiry", coerce=int, required=False, empty_value=None)
    driver = forms.CharField(
        label="Who drives", help_text="Full name, as on the licence.", max_length=120,
        widget=forms.TextInput(attrs=NAME),
    )  # fmt: skip
    phone = forms.CharField(label="Phone", required=False, max_length=40, widget=forms.TextInput(attrs=PHONE))
    email = forms.EmailField(label="E-mail", required=False, max_length=254, widget=forms.EmailInput(attrs=APART))
    licence_from = forms.CharField(
        label="Licence issued in", help_text="State or country. The number is not kept.", max_length=60
    )
    licence_valid_until = DayInput(label="Licence valid until")
    licence_copy = forms.FileField(
        label="Picture of the licence", required=False,
        widget=forms.FileInput(attrs={"accept": "image/*", "capture": "environment"}),
    )  # fmt: skip
    odometer_out = forms.IntegerField(
        label="Odometer going out", min_value=0, max_value=2_000_000, widget=forms.NumberInput(attrs=NUMERIC)
    )
    plate = forms.CharField(label="Plate on the vehicle", required=False, max_length=20)
    accompanied_by = forms.CharField(label="Who goes along", required=False, max_length=120)
    strokes = StrokesField()
    typed = forms.BooleanField(label="I sign by typing my name", required=False)
    text_seen = forms.CharField(widget=forms.HiddenInput, max_length=16)
    client_key = OnceKey()

    def __init__(self, data: Any = None, files: Any = None, *, page: Any, mark: str, asked: str = "") -> None:
        super().__init__(data, files, initial={"text_seen": mark, **_known(page.inquiries, asked=asked)})
        choices = [(row.pk, f"{row.on}, {row.who or row.get_way_display()}") for row in page.inquiries]
        self.fields["inquiry"].choices = [("", "None of them"), *choices]  # type: ignore[attr-defined]
        if page.lot.keep_licence_copies:
            days = page.lot.licence_copy_days
            told = f"Only where local law and the driver agree. Deleted after {days} day{'' if days == 1 else 's'}."
            self.fields["licence_copy"].help_text = told
        elif not (files and "licence_copy" in files):
            del self.fields["licence_copy"]

    def add_error(self, field: str | None, error: Any) -> None:
        """What is wrong with a drawing is told beside the pad, with a picture's file beside the picture."""
        super().add_error({"strokes": "typed", "file": "licence_copy"}.get(field or "", field), error)

    def given(self) -> dict[str, Any]:
        """What the action takes, apart from the picture, which is looked at first."""
        said = dict(self.cleaned_data)
        said.pop("licence_copy", None)
        signature = Signature(strokes=said.pop("strokes"), typed=said.pop("typed"))
        reach = {name: said.pop(name) for name in _REACH}
        inquiry_id = said.pop("inquiry")
        return {"drive": {**said, "inquiry_id": inquiry_id, "signature": signature}, "reach": reach}


def _known(inquiries: Any, *, asked: str) -> dict[str, Any]:
    """What is known of whoever asked, where the page was opened from their inquiry."""
    row = next((row for row in inquiries if str(row.pk) == asked), None)
    if row is None:
        return {}
    reach = {name: getattr(row.contact, name) for name in _REACH} if row.contact else {}
    return {"inquiry": row.pk, "driver": row.who, **reach}


class BackForm(VersionedForm):
    odometer_back = forms.IntegerField(
        label="Odometer coming back", min_value=0, max_value=2_000_000, widget=forms.NumberInput(attrs=NUMERIC)
    )
    note_back = forms.CharField(
        label="How it came back", required=False, max_length=300, widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Anything new: a mark, a noise, a light that came on.",
    )  # fmt: skip
