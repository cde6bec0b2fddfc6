"""Staff, tokens of office programs, and the settings of the lot."""

from typing import Any

from django import forms

from inventory.forms.fields import DayInput, MoneyInput, chosen
from inventory.rules.roles import STAFF_ROLES
from inventory.rules.sign_in import FactorRule
from inventory.rules.words import ListingTone, Objective, PayClock

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
    reads_only = forms.BooleanField(
        label="Reads only", required=False, help_text="It asks for anything this role may see, and changes nothing."
    )
    expires_on = DayInput(
        label="Last day", required=False, help_text="After it the token opens nothing. Empty: until it is revoked."
    )


class FactorRuleForm(forms.Form):
    second_factor = forms.ChoiceField(
        label="Of whom a code is asked besides the password",
        help_text="Everybody may switch it on for themselves. Whoever it is asked of sets it up at their next page.",
        choices=chosen(FactorRule),
    )


class LotForm(forms.Form):
    name = forms.CharField(label="Name of the lot", max_length=120)
    address = forms.CharField(
        label="Address",
        help_text="As it stands on the lot's papers.",
        required=False,
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    phone = forms.CharField(
        label="Phone",
        help_text="For buyers and consignors: it stands on the window sheet and the agreement.",
        required=False,
        max_length=40,
    )
    email = forms.EmailField(
        label="E-mail", help_text="Seen by buyers and consignors, like the phone.", required=False, max_length=254
    )
    pay_within_days = forms.IntegerField(
        label="Days within which a consignor is paid", help_text="States differ: check local law.",
        min_value=1, max_value=365,
    )  # fmt: skip
    pay_clock = forms.ChoiceField(
        label="What starts these days",
        help_text="States differ: check local law. Statements approved already keep their day.",
        choices=chosen(PayClock),
    )
    listing_tone = forms.ChoiceField(
        label="Tone of listings", help_text="The facts stay the same; only the wording changes.",
        choices=chosen(ListingTone),
    )  # fmt: skip
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
    ask_objective = forms.ChoiceField(
        label="What a suggested ask is for",
        help_text="Most for the consignor: what they are expected to be paid. Most for the lot: your commission less "
        "the cost of the place. Sold by the date: the highest ask that is likely enough to sell before the agreement "
        "ends. You still decide each ask.",
        choices=chosen(Objective),
    )
    sell_by_percent = forms.IntegerField(
        label="Chance that counts as sold by the date, percent",
        help_text="From 5 to 95. Used where a suggested ask is for a sale by the date.",
        min_value=5,
        max_value=95,
    )
    unsold_worth_percent = forms.IntegerField(
        label="What an unsold vehicle is still worth to its consignor, percent of the likely price",
        help_text="From 0 to 100. Used where a suggested ask is for the consignor: the less it is, the lower the ask.",
        min_value=0,
        max_value=100,
    )
    keep_licence_copies = forms.BooleanField(
        label="Copies of driving licences may be kept", required=False,
        help_text="Of whoever goes on a test drive. May be forbidden or need consent: check local law.",
    )  # fmt: skip
    licence_copy_days = forms.IntegerField(
        label="Days after which such a copy is deleted", min_value=1, max_value=365,
        help_text="It counts for copies made from now on.",
    )  # fmt: skip
    drive_waiver = forms.CharField(
        label="What is signed before a test drive",
        help_text="Empty: the text of the house. Have a lawyer review it under local law.",
        required=False, max_length=3000, widget=forms.Textarea(attrs={"rows": 6}),
    )  # fmt: skip
    brought_in_percent = forms.DecimalField(
        label="Share of the commission for who brought a vehicle in, percent",
        help_text="0 where nobody shares. Each vehicle can be shared otherwise.",
        min_value=0, max_value=100, max_digits=5, decimal_places=2,
    )  # fmt: skip
    sold_percent = forms.DecimalField(
        label="Share of the commission for who sold it, percent",
        help_text="Whoever of the staff marks a vehicle sold is put down for it. 0 where nobody shares.",
        min_value=0, max_value=100, max_digits=5, decimal_places=2,
    )  # fmt: skip


def initial_of(form: type[forms.Form], *, row: Any) -> dict[str, Any]:
    """What a form shows at first: the row's own columns, never a password."""
    return {name: getattr(row, name) for name in form.base_fields if name != "password"}
