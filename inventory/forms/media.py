"""Photos and clips: the forms that send them, and the one that hides them."""

from typing import Any

from django import forms

from inventory.forms.fields import chosen
from inventory.rules.media import ClipKind, Spot, UploadKind


class SeveralFiles(forms.ClearableFileInput):
    allow_multiple_selected = True


class PicturesField(forms.FileField):
    """One picture or several at once; the cleaned value is a list of uploaded files."""

    def clean(self, data: Any, initial: Any = None) -> Any:
        given = data if isinstance(data, list | tuple) else [data]
        return [one for one in (super(PicturesField, self).clean(one, initial) for one in given) if one]


class SpotForm(forms.Form):
    """What a picture answers travels unseen: the page that asks for it says so in its address."""

    station = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)
    check_code = forms.CharField(required=False, max_length=60, widget=forms.HiddenInput)
    shot = forms.CharField(required=False, max_length=60, widget=forms.HiddenInput)

    def spot(self) -> Spot:
        return Spot(**{name: self.cleaned_data[name] for name in ("station", "check_code", "shot")})


class PhotoForm(SpotForm):
    camera = PicturesField(
        label="Take pictures now",
        required=False,
        widget=SeveralFiles(attrs={"accept": "image/*", "capture": "environment"}),
    )
    file = PicturesField(
        label="Pictures taken before",
        help_text="JPEG, PNG, WebP or HEIC, up to 20 MB each. The place where they were taken is not shown.",
        required=False,
        widget=SeveralFiles(attrs={"accept": "image/*"}),
    )
    caption = forms.CharField(label="Caption", required=False, max_length=120)
    public = forms.BooleanField(label="Shown to the consignor and to buyers", required=False, initial=True)

    def clean(self) -> dict[str, Any]:
        given: dict[str, Any] = super().clean() or {}
        if not self.errors and not self.pictures():
            self.add_error("file", "Choose at least one picture.")
        return given

    def pictures(self) -> list[Any]:
        return [*self.cleaned_data.get("camera", []), *self.cleaned_data.get("file", [])]


class ClipForm(SpotForm):
    """Sent in pieces by the page's script; there is no other way for so large a file."""

    camera = forms.FileField(
        label="Film now",
        required=False,
        widget=forms.ClearableFileInput(attrs={"accept": "video/*", "capture": "environment"}),
    )
    file = forms.FileField(
        label="Clips filmed before",
        help_text="MP4, QuickTime or WebM, up to 300 MB each. Turn off location in the camera: "
        "a clip that holds its place cannot be shown to the consignor.",
        required=False,
        widget=SeveralFiles(attrs={"accept": "video/*"}),
    )
    clip_kind = forms.ChoiceField(label="What it shows", choices=chosen(ClipKind), initial=ClipKind.WALK_ROUND)
    caption = forms.CharField(label="Caption", required=False, max_length=120)
    public = forms.BooleanField(label="Shown to the consignor and to buyers", required=False)


class SendingForm(SpotForm):
    """A file that will come in pieces, as a program announces it."""

    stock_number = forms.CharField(max_length=20)
    kind = forms.ChoiceField(choices=UploadKind.choices)
    name = forms.CharField(max_length=255)
    bytes = forms.IntegerField(min_value=0)
    sha256 = forms.RegexField(r"\A[0-9a-f]{64}\Z")
    client_key = forms.UUIDField()
    clip_kind = forms.ChoiceField(choices=ClipKind.choices, required=False)
    caption = forms.CharField(required=False, max_length=120)
    public = forms.BooleanField(required=False)


class HideForm(forms.Form):
    reason = forms.CharField(label="Why", help_text="The file is kept; it is shown no more.", max_length=200)
