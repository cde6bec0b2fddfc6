"""Staff, tokens of office programs, and the settings of the lot."""

from typing import Any

from django import forms

from inventory.forms.fields import MoneyInput
from inventory.rules.roles import STAFF_ROLES

ROLES = [(role.value, str(role.label).capitalize()) for role in STAFF_ROLES]
PASSWORD_HINT = "At least 10 characters, and not a common one."  # noqa: S105  # a hint, not a password
_NEW = {"autocomplete": "new-password"}


class NewStaffForm(forms.Form):
    full_name = forms.CharField(label="Name", max_length=120, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    username = forms.CharField(
        label="User name",
        help_text="To sign in with; kept in small letters.",
        max_length=60,
        widget=forms.TextInput(attrs={"autocapitalize": "none", "autocomplete": "off"}),
    )
    email = forms.EmailField(label="E-mail", required=False, max_length=254)
    role = forms.ChoiceField(label="Role", choices=[("", "Choose"), *ROLES])
    password = forms.CharField(
        label="First password",
        help_text=f"{PASSWORD_HINT} Tell it in person; they change it after signing in.",
        strip=False,
        max_length=200,
        widget=forms.PasswordInput(attrs=_NEW),
    )


class ChangeStaffForm(forms.Form):
    full_name = forms.CharField(label="Name", max_length=120)
    email = forms.EmailField(label="E-mail", required=False, max_length=254)
    role = forms.ChoiceField(label="Role", choices=ROLES)
    is_active = forms.BooleanField(
        label="May sign in", help_text="Without it the account stays in the log and nobody can use it.", required=False
    )
    password = forms.CharField(
        label="New password",
        help_text=f"Empty leaves it as it is. {PASSWORD_HINT} Whoever uses the account is signed out.",
        required=False,
        strip=False,
        max_length=200,
        widget=forms.PasswordInput(attrs=_NEW),
    )


class NewTokenForm(forms.Form):
    name = forms.CharField(label="For which program", max_length=120)
    role = forms.ChoiceField(label="With the rights of", choices=[("", "Choose"), *ROLES])


class LotForm(forms.Form):
    name = forms.CharField(label="Name of the lot", max_length=120)
    address = forms.CharField(
        label="Address",
        help_text="As it stands on the lot's papers.",
        required=False,
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    pay_within_days = forms.IntegerField(
        label="Days within which a consignor is paid after the sale",
        help_text="States differ: check local law.",
        min_value=1,
        max_value=365,
    )
    aged_after_days = forms.IntegerField(label="Days after which stock counts as aged", min_value=1, max_value=3650)
    coverage_percent = forms.IntegerField(
        label="Share of sales that the price band should hold, percent",
        help_text="From 50 to 95. It counts from the next fit on.",
        min_value=50,
        max_value=95,
    )
    carrying_cost_per_day = MoneyInput(
        label="Cost of a place for a day", help_text="Mostly what the next vehicle could earn there."
    )


def initial_of(form: type[forms.Form], *, row: Any) -> dict[str, Any]:
    """What a form shows at first: the row's own columns, never a password."""
    return {name: getattr(row, name) for name in form.base_fields if name != "password"}
