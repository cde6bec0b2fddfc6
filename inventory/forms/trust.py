"""Forms of the trust report."""

from django import forms

from inventory.forms.fields import DayInput, MoneyInput, OnceKey, chosen
from inventory.forms.versioned import SeenForm
from inventory.rules.words import PaymentMethod, TrustKind


class DayForm(forms.Form):
    on = DayInput(label="As of", required=False)


class BalanceForm(SeenForm):
    amount = MoneyInput(label="Balance of the trust account")
    on = DayInput(label="At the end of", required=False, help_text="Today if left empty.")
    note = forms.CharField(label="Note", required=False, max_length=200)


class MoveForm(SeenForm):
    kind = forms.ChoiceField(label="What went", choices=chosen(TrustKind))
    amount = MoneyInput(label="Amount")
    method = forms.ChoiceField(label="By", choices=chosen(PaymentMethod))
    reference = forms.CharField(label="Number or reference", required=False, max_length=60)
    note = forms.CharField(label="Note", required=False, max_length=200)
    on = DayInput(label="Date", required=False, help_text="Today if left empty.")
    client_key = OnceKey()
