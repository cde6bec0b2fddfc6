"""Forms of the pricing desk."""

from django import forms

from inventory.forms.fields import MoneyInput


class AskForm(forms.Form):
    ask = MoneyInput(label="Ask")
    reason = forms.CharField(
        label="Reason", required=False, max_length=200, help_text="Kept with the ask, not published."
    )
    version = forms.IntegerField(widget=forms.HiddenInput)
