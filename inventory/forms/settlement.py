"""Forms of the settlement page."""

from typing import Any

from django import forms

from inventory.forms.fields import DayInput, MoneyInput, OnceKey, chosen
from inventory.forms.versioned import SeenForm, VersionedForm
from inventory.queries.settlements import PayeeLeft
from inventory.rules import money
from inventory.rules.words import PaymentMethod


class ApproveForm(VersionedForm):
    """Approves exactly the amount that was shown."""

    pay_on = DayInput(
        label="Day it will be paid out", required=False,
        help_text="Today if left empty. A payoff with an amount for each day is reckoned for this day.",
    )  # fmt: skip
    expected_due = forms.DecimalField(max_digits=12, decimal_places=2, widget=forms.HiddenInput)


class PayForm(SeenForm):
    payee_kind = forms.ChoiceField(label="Paid to")
    payee = forms.CharField(label="Name on the payment", max_length=120)
    amount = MoneyInput(label="Amount")
    method = forms.ChoiceField(label="Paid by", choices=chosen(PaymentMethod))
    reference = forms.CharField(
        label="Reference", required=False, max_length=60, help_text="Number of the cheque or transfer."
    )
    on = DayInput(label="Date", required=False, help_text="Today if left empty.")
    proof = forms.FileField(label="Proof of payment", required=False, help_text="PDF, JPEG or PNG, 5 MB at most.")
    client_key = OnceKey()

    def __init__(self, data: Any = None, files: Any = None, *, to_pay: tuple[PayeeLeft, ...]) -> None:
        first = to_pay[0] if to_pay else None
        super().__init__(data, files, initial={"payee": first.name, "amount": first.left} if first else {})
        self.fields["payee"].help_text = "; ".join(
            f"{payee.name}, {payee.label}: {money.show(payee.left)} left" for payee in to_pay
        )
        kinds = {payee.kind: payee.label for payee in to_pay}
        self.fields["payee_kind"].choices = list(kinds.items())  # type: ignore[attr-defined]


class ReverseForm(SeenForm):
    reason = forms.CharField(label="What is wrong with it", max_length=200)
