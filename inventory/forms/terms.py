"""Forms of the terms page: terms, charges, and a charge set aside."""

import re
from collections.abc import Sequence
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms

from inventory.errors import Refused
from inventory.forms.fields import DayInput, MoneyInput, OnceKey, chosen
from inventory.forms.term_lines import ChargeRulesInput, PayeesInput, StepsInput
from inventory.forms.versioned import SeenForm, VersionedForm
from inventory.rules import money
from inventory.rules.words import (
    BornBy,
    ChargeKind,
    CommissionBase,
    Exclusivity,
    FloorKind,
    PlanKind,
    TitleProtection,
)

_LINE = re.compile(r"(?:up to (?P<up_to>[^:]+)|above) ?: ?(?P<rate>[0-9]+(?:\.[0-9]+)?) ?%?", re.IGNORECASE)
HOW = "Write each tier on its own line, such as “up to 20,000: 10”, and the last as “above: 8”."
TierGiven = tuple[Decimal | None, Decimal]


class TiersInput(forms.CharField):
    """Tiers as people write them, one a line. Becomes a tuple of (up to or None, rate in percent)."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(widget=forms.Textarea(attrs={"rows": 3}), **kwargs)

    def to_python(self, value: Any) -> Any:
        lines = [" ".join(line.split()) for line in str(super().to_python(value) or "").splitlines()]
        return tuple(self._tier(line, number=number) for number, line in enumerate(lines, start=1) if line)

    def _tier(self, line: str, *, number: int) -> TierGiven:
        typed = _LINE.fullmatch(line)
        if typed is None:
            raise forms.ValidationError(f"Line {number}, “{line}”, cannot be read as a tier. {HOW}", code="tier")
        try:
            up_to = None if typed["up_to"] is None else money.parse(typed["up_to"].strip(), field="tiers")
            return up_to, Decimal(typed["rate"])
        except (Refused, InvalidOperation) as problem:
            raise forms.ValidationError(f"Line {number}: {problem}", code="tier") from problem

    def prepare_value(self, value: Any) -> Any:
        return value if value is None or isinstance(value, str) else tiers_as_lines(value)


def tiers_as_lines(tiers: Sequence[TierGiven]) -> str:
    return "\n".join(
        f"{'above' if up_to is None else f'up to {money.plain(up_to)}'}: {rate.normalize():f}" for up_to, rate in tiers
    )


def _rate(**kwargs: Any) -> forms.DecimalField:
    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
    return forms.DecimalField(max_digits=6, decimal_places=3, required=False, widget=widget, **kwargs)


def _days(*, most: int, **kwargs: Any) -> forms.IntegerField:
    return forms.IntegerField(required=False, min_value=0, max_value=most, **kwargs)


class TermsForm(VersionedForm):
    """One version of the terms. Which figures a plan needs is said by the rules, not here."""

    plan_kind = forms.ChoiceField(label="Commission plan", choices=chosen(PlanKind))
    rate = _rate(label="Commission, percent", help_text="For a percentage: 9 is 9 %.")
    minimum = MoneyInput(label="Least commission", required=False, help_text="For a percentage with a minimum.")
    maximum = MoneyInput(label="Most commission", required=False)
    commission_base = forms.ChoiceField(label="A percentage is taken of", choices=chosen(CommissionBase))
    tiers = TiersInput(label="Tiers", required=False, help_text=f"{HOW} Each rate is for its own part of the price.")
    flat = MoneyInput(label="Flat fee", required=False, help_text="For a flat fee.")
    guaranteed_net = MoneyInput(
        label="Guaranteed net", required=False, help_text="Before charges and lien; the lot keeps what is above it."
    )
    floor = MoneyInput(label="Floor", required=False, help_text="The lowest the consignor agreed to accept.")
    floor_kind = forms.ChoiceField(label="The floor is", choices=chosen(FloorKind))
    starts_on = DayInput(label="Agreement starts")
    ends_on = DayInput(label="Agreement ends")
    signed_by = forms.CharField(
        label="Signed by", required=False, max_length=120, help_text="Leave empty until the consignor has signed."
    )
    signed_on = DayInput(label="Signed on", required=False)
    title_protection = forms.ChoiceField(
        label="How the consignor's title is protected", choices=chosen(TitleProtection), help_text="Check local law."
    )
    title_protection_note = forms.CharField(
        label="Its number, account or place", required=False, max_length=120, help_text="Of the filing, say."
    )
    exclusivity = forms.ChoiceField(label="Who may sell it", choices=chosen(Exclusivity))
    renewal_days = _days(label="Days a renewal would add", most=730, help_text="Nothing is renewed without their word.")
    protection_days = _days(
        label="Days after the end in which a sale to a buyer the lot introduced owes commission", most=730
    )
    step_downs = StepsInput(label="Asks agreed ahead")
    consent_below = MoneyInput(label="Ask the consignor before an ask below", required=False)
    convey_from = MoneyInput(
        label="Pass on offers from",
        required=False,
        help_text="Lower ones need not be. Empty: every offer is passed on.",
    )
    charge_rules = ChargeRulesInput(label="Who bears which charge")
    storage_per_day = MoneyInput(label="Storage a day after the end", required=False)
    storage_free_days = _days(label="Days after the end without storage", most=365)
    withdrawal_fee = MoneyInput(label="Fee for taking it back before the end", required=False)
    forfeit_percent = _rate(label="Consignor's share of a forfeited deposit, percent")
    insurance = forms.CharField(
        label="Insurance", required=False, max_length=400, help_text="Who insures the vehicle, and for what.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip
    photos_allowed = forms.BooleanField(label="Photos may be shown", required=False, initial=True)
    test_drives_allowed = forms.BooleanField(label="Test drives are allowed", required=False, initial=True)
    payees = PayeesInput(label="Who is paid which share")
    lien_holder = forms.CharField(label="Lien holder", required=False, max_length=120)
    lien_amount = MoneyInput(label="Lien payoff quoted", required=False)
    lien_quoted_on = DayInput(label="Quoted on", required=False)
    lien_good_until = DayInput(label="Quote good until", required=False)
    lien_per_day = MoneyInput(label="Each further day adds", required=False)

    GROUPS: tuple[tuple[str, tuple[str, ...]], ...] = (
        (
            "Commission",
            ("plan_kind", "rate", "minimum", "maximum", "tiers", "flat", "guaranteed_net", "commission_base"),
        ),
        ("Floor, asks and offers", ("floor", "floor_kind", "step_downs", "consent_below", "convey_from")),
        ("Agreement", ("starts_on", "ends_on", "renewal_days", "exclusivity", "protection_days", "withdrawal_fee")),
        ("Charges", ("charge_rules", "storage_per_day", "storage_free_days", "forfeit_percent")),
        ("Who is paid", ("payees",)),
        (
            "Title, insurance, permissions",
            ("title_protection", "title_protection_note", "insurance", "photos_allowed", "test_drives_allowed"),
        ),
        ("Lien, if there is one", ("lien_holder", "lien_amount", "lien_quoted_on", "lien_good_until", "lien_per_day")),
        ("Signature of the consignor", ("signed_by", "signed_on")),
    )

    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        return [(legend, [self[name] for name in names]) for legend, names in self.GROUPS]

    def given(self) -> dict[str, Any]:
        """The terms without the version of the page."""
        said = {name: value for name, value in self.cleaned_data.items() if name != "version"}
        return {**said, **{name: said[name] or 0 for name in ("protection_days", "storage_free_days")}}


class ChargeForm(SeenForm):
    kind = forms.ChoiceField(label="Kind", choices=chosen(ChargeKind))
    what = forms.CharField(label="What for", max_length=200, help_text="As the consignor reads it on the statement.")
    amount = MoneyInput(label="Amount")
    borne_by = forms.ChoiceField(label="Borne by", choices=chosen(BornBy))
    agreed_by = forms.CharField(label="Who agreed to it", max_length=120)
    vendor = forms.CharField(
        label="Vendor to be paid out of the sale", required=False, max_length=120,
        help_text="Empty where the lot did it or has paid it.",
    )  # fmt: skip
    on = DayInput(label="Date", required=False, help_text="Today if left empty.")
    client_key = OnceKey()


class LienQuoteForm(SeenForm):
    holder = forms.CharField(label="Lender", max_length=120)
    amount = MoneyInput(label="Payoff", help_text="Zero when nothing is owed any more.")
    quoted_on = DayInput(label="Quoted on")
    good_until = DayInput(label="Good until", required=False)
    per_day = MoneyInput(label="Each further day adds", required=False)
    reference = forms.CharField(label="Account or reference", required=False, max_length=60)


class PriceForm(forms.Form):
    """Any price, to see what it would leave the consignor."""

    price = MoneyInput(label="Net at a price of", required=False)


class StorageForm(SeenForm):
    until = DayInput(label="Storage until", required=False, help_text="Today if left empty.")


class ProtectedForm(SeenForm):
    price = MoneyInput(label="Price of that sale")
    sold_on = DayInput(label="Sold on")
    buyer = forms.CharField(label="Buyer whom the lot introduced", max_length=120)


class AsideForm(SeenForm):
    reason = forms.CharField(label="Why it is set aside", max_length=200)
