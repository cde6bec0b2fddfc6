"""Care that was done, and how often it is wanted."""

from decimal import Decimal
from typing import Any

from django import forms

from inventory.forms.fields import OnceKey, chosen
from inventory.forms.versioned import SeenForm, VersionedForm
from inventory.queries.care import CareGroup, CareLine
from inventory.rules.floor_words import CareKind


class CareDoneForm(SeenForm):
    """One kind of care: ticked vehicles, one vehicle by its own button, or all that stand at one place.

    A reading says by itself that its vehicle was seen to.
    """

    stays = forms.TypedMultipleChoiceField(coerce=int, required=False, widget=forms.CheckboxSelectMultiple)
    only = forms.IntegerField(required=False, widget=forms.HiddenInput)
    all_at = forms.CharField(required=False, max_length=60, widget=forms.HiddenInput)
    note = forms.CharField(label="Note for all that are done", required=False, max_length=200)
    key = OnceKey()

    def __init__(self, data: Any = None, *, group: CareGroup) -> None:
        super().__init__(data, auto_id=f"{group.kind}-%s")
        self.group = group
        self.fields["stays"].choices = [(line.stay_id, line.stock_number) for line in group.lines]  # type: ignore[attr-defined]
        for line in group.lines if group.gauge else ():
            self.fields[f"reading-{line.stay_id}"] = forms.DecimalField(
                label=f"Reading of {line.stock_number}", required=False, max_digits=7, decimal_places=2, min_value=0,
                max_value=group.gauge.most if group.gauge else None,
                widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
            )  # fmt: skip

    def rows(self) -> list[tuple[CareLine, forms.BoundField | None, bool]]:
        """Each line with the field of its reading and whether it is ticked."""
        ticked = {str(one) for one in self["stays"].value() or ()}
        return [
            (line, self[f"reading-{line.stay_id}"] if self.group.gauge else None, str(line.stay_id) in ticked)
            for line in self.group.lines
        ]

    def readings(self) -> dict[int, Decimal]:
        given = {line.stay_id: self.cleaned_data.get(f"reading-{line.stay_id}") for line in self.group.lines}
        return {stay_id: reading for stay_id, reading in given.items() if reading is not None}

    def chosen(self) -> list[int]:
        """Whoever was seen to, in the order of the page."""
        said = self.cleaned_data
        named = {*said["stays"], said["only"], *self.readings()}
        at = said["all_at"].casefold()
        return [
            line.stay_id
            for line in self.group.lines
            if line.stay_id in named or (at and line.where.place.casefold() == at)
        ]


class CareRuleForm(VersionedForm):
    """How often one kind is due on the whole lot."""

    kind = forms.CharField(max_length=16, widget=forms.HiddenInput)
    version = forms.IntegerField(required=False, widget=forms.HiddenInput)  # a rule that is not there has none
    every_days = forms.IntegerField(
        label="Days between", help_text="Empty: not wanted.", required=False, min_value=1, max_value=730,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )  # fmt: skip
    what = forms.CharField(label="What is done", required=False, max_length=200)


class OwnRuleForm(SeenForm):
    """One vehicle may want it otherwise."""

    kind = forms.ChoiceField(label="Care", choices=chosen(CareKind))
    how = forms.ChoiceField(
        label="How often", choices=(("days", "Each so many days"), ("never", "Not at all"), ("lot", "As the lot does"))
    )
    every_days = forms.IntegerField(
        label="Days between", required=False, min_value=1, max_value=730,
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )  # fmt: skip
    what = forms.CharField(label="What is done", required=False, max_length=200)

    def clean(self) -> dict[str, Any]:
        given: dict[str, Any] = super().clean() or {}
        days = given.get("every_days")
        if given.get("how") == "days" and days is None and "every_days" not in self.errors:
            self.add_error("every_days", "Give the days between.")
        if given.get("how") in ("never", "lot") and days is not None:
            self.add_error("every_days", "Leave the days empty, or choose each so many days.")
        return given
