"""Forms of work orders: one for opening, one for each further step."""

from typing import Any

from django import forms

from inventory.forms.fields import DayInput, MoneyInput, OnceKey, chosen
from inventory.forms.versioned import SeenForm, VersionedForm
from inventory.queries.work import OrderSeen
from inventory.rules.words import BornBy
from inventory.rules.work import KINDS

KIND_CHOICES = [(kind.value, str(kind.label).capitalize()) for kind in KINDS]
TODAY = "Today if left empty."


class OpenForm(SeenForm):
    """What is to be done, and which checks it touches."""

    kind = forms.ChoiceField(label="Kind", choices=KIND_CHOICES)
    what = forms.CharField(label="What is to be done", max_length=200, help_text="The consignor reads it.")
    vendor = forms.CharField(
        label="Who does it", required=False, max_length=120, help_text="Empty: the lot's own shop."
    )
    borne_by = forms.ChoiceField(label="Who bears it", choices=chosen(BornBy))
    estimate = MoneyInput(label="Estimate", required=False, help_text="Needed where the consignor bears it.")
    checks = forms.MultipleChoiceField(
        label="Checks it touches", required=False, widget=forms.CheckboxSelectMultiple,
        help_text="They are graded again when the work is done.",
    )  # fmt: skip
    started_from = forms.CharField(required=False, max_length=200, widget=forms.HiddenInput)
    client_key = OnceKey()

    def __init__(self, data: Any = None, *, groups: list[tuple[str, list[tuple[str, str]]]], **kwargs: Any) -> None:
        super().__init__(data, auto_id="open-%s", **kwargs)
        self.groups = groups
        self.fields["checks"].choices = [pair for _, pairs in groups for pair in pairs]  # type: ignore[attr-defined]

    def check_groups(self) -> list[tuple[str, list[Any], int]]:
        """The boxes by station, and how many of them are ticked."""
        boxes = {str(box.data["value"]): box for box in self["checks"]}
        found = []
        for title, pairs in self.groups:
            mine = [boxes[code] for code, _ in pairs]
            found.append((title, mine, sum(bool(box.data["selected"]) for box in mine)))
        return found

    def order(self) -> dict[str, Any]:
        given = {name: value for name, value in self.cleaned_data.items() if name != "client_key"}
        return {**given, "checks": tuple(given["checks"])}


class StepForm(VersionedForm):
    """Several stand on one page, so each has its own ids."""

    slug = ""

    def __init__(self, data: Any = None, *, one: OrderSeen, keys: str = "") -> None:
        start = {"version": one.row.version, **self.begin_with(one, keys=keys)}
        super().__init__(data, auto_id=f"{self.slug}-{one.row.pk}-%s", initial=start)

    def begin_with(self, one: OrderSeen, *, keys: str) -> dict[str, Any]:
        """What is known already."""
        return {}


class AskStep(StepForm):
    slug = "ask"


class ChangeStep(StepForm):
    slug = "change"
    vendor = forms.CharField(label="Who does it", required=False, max_length=120)
    borne_by = forms.ChoiceField(label="Who bears it", choices=chosen(BornBy))
    estimate = MoneyInput(label="Estimate", required=False)

    def begin_with(self, one: OrderSeen, *, keys: str) -> dict[str, Any]:
        return {"vendor": one.row.vendor, "borne_by": one.row.borne_by, "estimate": one.row.estimate}


class OutStep(StepForm):
    slug = "out"
    place = forms.CharField(label="Where it stands meanwhile", max_length=60, help_text="Shop, vendor, lift.")
    keys = forms.CharField(label="Keys", required=False, max_length=60)

    def begin_with(self, one: OrderSeen, *, keys: str) -> dict[str, Any]:
        return {"place": (one.row.vendor or "Shop")[:60], "keys": keys}


class BackStep(StepForm):
    slug = "back"
    place = forms.CharField(label="Where it stands now", max_length=60)
    keys = forms.CharField(label="Keys", required=False, max_length=60)
    found = forms.CharField(label="What was done", required=False, max_length=300)

    def begin_with(self, one: OrderSeen, *, keys: str) -> dict[str, Any]:
        return {"keys": keys}


class RegradeStep(StepForm):
    slug = "regrade"


class InvoiceStep(StepForm):
    slug = "invoice"
    amount = MoneyInput(label="Amount of the invoice", help_text="0 where nothing is asked for it.")
    number = forms.CharField(label="Number", required=False, max_length=60)
    vendor = forms.CharField(label="From", required=False, max_length=120)
    on = DayInput(label="Date", required=False, help_text=TODAY)

    def begin_with(self, one: OrderSeen, *, keys: str) -> dict[str, Any]:
        return {"vendor": one.row.vendor}


class ChargeStep(StepForm):
    slug = "charge"


class CallOffStep(StepForm):
    slug = "call-off"
    reason = forms.CharField(label="Why it is called off", max_length=200)
