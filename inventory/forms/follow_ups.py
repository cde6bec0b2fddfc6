"""What came of going after an inquiry."""

from django import forms

from inventory.forms.fields import DayInput, OnceKey
from inventory.forms.versioned import SeenForm


class FollowUpForm(SeenForm):
    said = forms.CharField(label="What came of it", max_length=300, widget=forms.Textarea(attrs={"rows": 2}))
    next_on = DayInput(label="Follow up again on", required=False, help_text="Empty: it is done.")
    client_key = OnceKey()
