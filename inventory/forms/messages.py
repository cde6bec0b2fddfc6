"""The list of mails, and the wording of one kind."""

from django import forms

from inventory.forms.fields import chosen
from inventory.forms.versioned import VersionedForm
from inventory.rules.words import MessageStatus


class MailSearch(forms.Form):
    status = forms.ChoiceField(
        label="What became of it", required=False, choices=chosen(MessageStatus, empty="All mails")
    )


class TextForm(VersionedForm):
    subject = forms.CharField(label="Subject", max_length=150)
    body = forms.CharField(
        label="Text", help_text="An empty line begins a new paragraph.", max_length=5000,
        widget=forms.Textarea(attrs={"rows": 14}),
    )  # fmt: skip
