"""Forms of questions to and from the consignor."""

from typing import Any

from django import forms

from inventory.forms.fields import DayInput, MoneyInput, OnceKey, chosen
from inventory.forms.versioned import SeenForm
from inventory.rules.words import ChargeKind, ConsentKind


class AskForm(SeenForm):
    """One question. What it needs is said by the rules."""

    kind = forms.ChoiceField(label="Agreement to", choices=chosen(ConsentKind))
    amount = MoneyInput(
        label="Amount",
        required=False,
        help_text="The lowest price, the ask, the charge, or the money off. Not for terms.",
    )
    charge_kind = forms.ChoiceField(
        label="Kind of charge", required=False, choices=chosen(ChargeKind, empty="No charge")
    )
    what = forms.CharField(
        label="What for", required=False, max_length=200, help_text="For a charge or money off, as they shall read it."
    )
    vendor = forms.CharField(label="Vendor to be paid out of the sale", required=False, max_length=120)
    answer_by = DayInput(label="Answer wanted by", required=False)
    client_key = OnceKey()


class AnswerForm(SeenForm):
    """What the consignor said on paper or on the phone."""

    agreed = forms.ChoiceField(label="They", choices=[("yes", "Agree"), ("no", "Decline")])
    given_by = forms.CharField(label="Who answered, full name", max_length=120)
    how = forms.CharField(label="How", max_length=120, help_text="On paper, by phone, in person.")

    def said(self) -> dict[str, Any]:
        return {**self.cleaned_data, "agreed": self.cleaned_data["agreed"] == "yes"}


class ReplyForm(SeenForm):
    text = forms.CharField(
        label="Your answer", max_length=2000, widget=forms.Textarea(attrs={"rows": 3}),
        help_text="The consignor reads it on their status page.",
    )  # fmt: skip
