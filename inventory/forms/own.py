"""Forms of the lot's own vehicles."""

from typing import Any

from django import forms

from inventory.forms.fields import DayInput, MoneyInput, OnceKey, chosen
from inventory.forms.lot import VehicleForm
from inventory.forms.versioned import SeenForm, VersionedForm
from inventory.rules.floor_words import OwnCostKind

TODAY = "Today if left empty."
COST_KINDS = [(value, label) for value, label in chosen(OwnCostKind) if value != OwnCostKind.TRADE]
OF_PURCHASE = ("price", "paid_to", "paid_on", "client_key")


class BuyForm(VehicleForm):
    """A vehicle that arrives as the lot's own: whose it is need not be asked, what was paid is."""

    price = MoneyInput(label="Price paid")
    paid_to = forms.CharField(label="Bought from", max_length=120)
    paid_on = DayInput(label="Paid on", required=False, help_text=TODAY)
    client_key = OnceKey()

    def arrival(self) -> dict[str, Any]:
        return {name: value for name, value in self.cleaned_data.items() if name not in OF_PURCHASE}


class CostForm(SeenForm):
    kind = forms.ChoiceField(label="What kind of cost", choices=COST_KINDS)
    what = forms.CharField(label="What for", required=False, max_length=200)
    amount = MoneyInput(label="Amount")
    paid_to = forms.CharField(label="Paid to", required=False, max_length=120)
    on = DayInput(label="Date", required=False, help_text=TODAY)
    client_key = OnceKey()


class AsideForm(SeenForm):
    """Which cost was wrong, and why."""

    cost = forms.TypedChoiceField(label="Cost", coerce=int)
    reason = forms.CharField(label="Why it is set aside", max_length=200)

    def __init__(self, data: Any = None, *, costs: list[tuple[int, str]]) -> None:
        super().__init__(data, auto_id="aside-%s")
        self.fields["cost"].choices = costs  # type: ignore[attr-defined]


class CloseForm(VersionedForm):
    """Nothing is typed: one tap closes the sale."""
