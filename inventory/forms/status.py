"""The form by which staff make and revoke a consignor's private link."""

from django import forms

from inventory.forms.versioned import SeenForm

MAKE, REVOKE = "make", "revoke"


class LinkForm(SeenForm):
    do = forms.ChoiceField(label="What to do", choices=[(MAKE, "Make a new link"), (REVOKE, "Revoke the link")])
