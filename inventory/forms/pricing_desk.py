"""Forms of the pricing desk."""

from django import forms

from inventory.forms.fields import MoneyInput
from inventory.forms.versioned import VersionedForm


class AskForm(VersionedForm):
    ask = MoneyInput(label="Ask")
    reason = forms.CharField(
        label="Reason", required=False, max_length=200, help_text="Kept with the ask, not published."
    )
