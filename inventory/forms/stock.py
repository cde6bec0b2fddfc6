"""What the stock screen shows, and in which order."""

from django import forms

from inventory.rules.waiting import StockOrder


class StockSearch(forms.Form):
    """The order is kept in the address: links set it, and a search takes it along."""

    q = forms.CharField(
        label="Show only",
        help_text="Stock number, vehicle or consignor.",
        required=False,
        max_length=100,
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
    )
    order = forms.ChoiceField(
        label="Order", required=False, choices=lambda: StockOrder.choices, widget=forms.HiddenInput
    )
