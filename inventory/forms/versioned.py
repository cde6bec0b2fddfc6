"""What the forms of the house share: an error is always seen, and a page knows which version it shows."""

from typing import Any

from django import forms


class SeenForm(forms.Form):
    """An error of a hidden field is told at the top of the form: beside the field nobody would see it."""

    def add_error(self, field: str | None, error: Any) -> None:
        hidden = field is not None and field in self.fields and self.fields[field].widget.is_hidden
        super().add_error(None if hidden else field, error)


class VersionedForm(SeenForm):
    """Carries the version of what the page showed."""

    version = forms.IntegerField(
        widget=forms.HiddenInput,
        error_messages={"required": "The page does not say which version it showed. Look again, then repeat it."},
    )
