"""Forms of the pricing desk."""

from collections.abc import Mapping
from typing import Any

from django import forms

from inventory.forms.fields import MoneyInput
from inventory.forms.versioned import SeenForm, VersionedForm
from inventory.queries.ask_desk import Situation, Step, View
from inventory.rules.words import Objective

VIEW_FIELDS = ("objective", "chance", "cost", "lower_to", "after_days")


class _OfAView(SeenForm):
    """What the asks are looked at for; what is left empty is as the lot has set it."""

    objective = forms.ChoiceField(label="Suggest an ask for", required=False, choices=Objective.choices)
    chance = forms.IntegerField(
        label="Chance that counts as sold by the date, percent", required=False, min_value=5, max_value=95
    )
    cost = MoneyInput(label="Cost of its place for a day", required=False)
    lower_to = forms.IntegerField(
        label="Lower the ask later, to percent of it", required=False, min_value=1, max_value=99
    )
    after_days = forms.IntegerField(label="After days from today", required=False, min_value=1)

    def __init__(self, *given: Any, here: Situation, **more: Any) -> None:
        super().__init__(*given, **more)
        self.here = here

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        to, after = said.get("lower_to"), said.get("after_days")
        if not {"lower_to", "after_days"} & set(self.errors):
            if to is not None and after is None:
                self.add_error("after_days", "Say after how many days it is lowered.")
            elif after is not None and to is None:
                self.add_error("lower_to", "Say to how many percent it is lowered.")
            elif after is not None and after > self.here.days_left:
                self.add_error("after_days", f"{after} days are after the end: {self.here.days_left} are left.")
        return said

    def view(self) -> View:
        """By what was said, where it could be read; else as the lot has it."""
        usual = self.here.usual
        if not self.is_bound or self.errors:
            return usual
        said = self.cleaned_data
        to = said["lower_to"]
        return View(
            objective=Objective(said["objective"] or usual.objective),
            cost_per_day=usual.cost_per_day if said["cost"] is None else said["cost"],
            target_percent=said["chance"] or usual.target_percent,
            step=None if to is None else Step(percent=to, after_days=said["after_days"]), offer=said.get("offer"),
        )  # fmt: skip


class ViewForm(_OfAView):
    """Sent by GET: nothing of it is stored. `ask` is what a suggestion puts into the form of the ask."""

    offer = MoneyInput(label="Weigh an offer of", required=False)
    ask = MoneyInput(required=False, widget=forms.HiddenInput)

    def __init__(self, sent: Mapping[str, Any], *, here: Situation) -> None:
        usual = here.usual
        shown = {
            "objective": usual.objective.value, "chance": usual.target_percent, "cost": f"{usual.cost_per_day:,.2f}",
        }  # fmt: skip
        given = {name: sent[name] for name in self.base_fields if sent.get(name)}
        super().__init__({**shown, **given}, here=here)

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        offer = said.get("offer")
        if offer is not None and offer <= 0:
            self.add_error("offer", "An offer is above zero.")
        return said

    @property
    def of_the_view(self) -> list[forms.BoundField]:
        return [self[name] for name in VIEW_FIELDS]

    @property
    def carried(self) -> dict[str, Any]:
        """The settings that go with the ask when it is set."""
        return {name: self.data.get(name, "") for name in VIEW_FIELDS}


class AskForm(VersionedForm, _OfAView):
    """The view travels along, so that what is suggested is reckoned again as it was shown."""

    ask = MoneyInput(label="Ask")
    reason = forms.CharField(
        label="Reason", required=False, max_length=200, help_text="Kept with the ask, not published."
    )

    def __init__(self, *given: Any, **more: Any) -> None:
        super().__init__(*given, **more)
        for name in VIEW_FIELDS:
            self.fields[name].widget = forms.HiddenInput()
