"""Forms of the terms page: terms, charges, and a charge set aside."""

import re
from collections.abc import Sequence
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms

from inventory.errors import Refused
from inventory.forms.fields import DayInput, MoneyInput, OnceKey, chosen
from inventory.forms.versioned import SeenForm, VersionedForm
from inventory.rules import money
from inventory.rules.words import BornBy, ChargeKind, FloorKind, PlanKind, TitleProtection

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


class TermsForm(VersionedForm):
    """One version of the terms. Which figures a plan needs is said by the rules, not here."""

    plan_kind = forms.ChoiceField(label="Commission plan", choices=chosen(PlanKind))
    rate = _rate(label="Commission, percent", help_text="For a percentage: 9 is 9 %.")
    minimum = MoneyInput(label="Least commission", required=False, help_text="For a percentage with a minimum.")
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
    lien_holder = forms.CharField(label="Lien holder", required=False, max_length=120)
    lien_amount = MoneyInput(label="Lien payoff quoted", required=False)
    lien_quoted_on = DayInput(label="Quoted on", required=False)
    lien_good_until = DayInput(label="Quote good until", required=False)
    lien_per_day = MoneyInput(label="Each further day adds", required=False)

    GROUPS = (
        ("Commission", ("plan_kind", "rate", "minimum", "tiers", "flat", "guaranteed_net")),
        ("Floor", ("floor", "floor_kind")),
        ("Agreement", ("starts_on", "ends_on", "signed_by", "signed_on", "title_protection")),
        ("Lien, if there is one", ("lien_holder", "lien_amount", "lien_quoted_on", "lien_good_until", "lien_per_day")),
    )

    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        return [(legend, [self[name] for name in names]) for legend, names in self.GROUPS]

    def given(self) -> dict[str, Any]:
        """The terms without the version of the page."""
        return {name: value for name, value in self.cleaned_data.items() if name != "version"}


class ChargeForm(SeenForm):
    kind = forms.ChoiceField(label="Kind", choices=chosen(ChargeKind))
    what = forms.CharField(label="What for", max_length=200, help_text="As the consignor reads it on the statement.")
    amount = MoneyInput(label="Amount")
    borne_by = forms.ChoiceField(label="Borne by", choices=chosen(BornBy))
    agreed_by = forms.CharField(label="Who agreed to it", max_length=120)
    on = DayInput(label="Date", required=False, help_text="Today if left empty.")
    client_key = OnceKey()


class AsideForm(SeenForm):
    reason = forms.CharField(label="Why it is set aside", max_length=200)
