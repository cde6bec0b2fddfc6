"""What may be supposed of one vehicle: a form that is sent by GET, since nothing is written."""

from typing import Any

from django import forms

from inventory.forms.fields import MoneyInput, chosen
from inventory.queries.what_if import Addition, Plan, Situation
from inventory.rules.unanswered import INPUTS, TITLES
from inventory.rules.words import (
    BuildClass,
    Fitting,
    Grade,
    ModificationKind,
    OdometerStatus,
    Standing,
    TitleBrand,
)

ROWS, MODIFICATIONS = (1, 2, 3), (1, 2)
NOTHING = "Nothing"
PAIRED = {"check", "grade", "component", "standing", "kind", "fitting", "changes"}
STATED = [(value, label) for value, label in chosen(OdometerStatus, empty="") if value != OdometerStatus.NOT_STATED]
ESTABLISHED = [(value, label) for value, label in chosen(Standing, empty="") if value != Standing.NOT_ESTABLISHED]
WORDS = {"build_class": chosen(BuildClass, empty=""), "title_brand": chosen(TitleBrand, empty=""),
         "odometer_status": STATED}  # fmt: skip


class WhatIfForm(forms.Form):
    """Three checks, three components, modifications undone, two added, and the inputs that are missing."""

    def __init__(self, sent: Any = None, *, here: Situation) -> None:
        super().__init__(sent)
        self.here = here
        for row in ROWS:
            self._pair(row, what="check", choices=here.checks, answer="grade", answers=chosen(Grade, empty=""))
            self._pair(row, what="component", choices=here.components, answer="standing", answers=ESTABLISHED)
        if here.undoable:
            self.fields["undone"] = forms.MultipleChoiceField(
                label="Undo", required=False, choices=here.undoable, widget=forms.CheckboxSelectMultiple
            )
        for row in MODIFICATIONS:
            self._addition(row)
        for name in here.missing:
            self.fields[name] = _input(name)
        self.fields["cost"] = MoneyInput(label="What it would cost", required=False)

    def _pair(self, row: int, *, what: str, choices: Any, answer: str, answers: Any) -> None:
        """Two lists beside each other: what it is about, and what is supposed of it. None where nothing is offered."""
        if not choices:
            return
        for name, options in ((what, [("", NOTHING), *choices]), (answer, answers)):
            self.fields[f"{name}_{row}"] = forms.ChoiceField(label=name.capitalize(), required=False, choices=options)

    def _addition(self, row: int) -> None:
        self.fields[f"kind_{row}"] = forms.ChoiceField(
            label="Add a modification of", required=False, choices=chosen(ModificationKind, empty=NOTHING)
        )
        self.fields[f"fitting_{row}"] = forms.ChoiceField(
            label="Fitted", required=False, choices=chosen(Fitting, empty="")
        )
        if self.here.components:
            self.fields[f"changes_{row}"] = forms.ChoiceField(
                label="Changes", required=False, choices=[("", "No main component"), *self.here.components]
            )

    def clean(self) -> dict[str, Any]:
        self._refuse_not_offered()
        self._whole("check", answer="grade", rows=ROWS, said="grade it would have")
        self._whole("component", answer="standing", rows=ROWS, said="standing it would have")
        self._whole("kind", answer="fitting", rows=MODIFICATIONS, said="way it is fitted")
        for row in MODIFICATIONS:
            if self._said(f"changes_{row}") and not self._said(f"kind_{row}"):
                self.add_error(f"kind_{row}", "Choose the kind of modification too.")
        if not self.errors and self.plan().is_empty:
            self.add_error(None, "Nothing is supposed yet: choose at least one thing.")
        return self.cleaned_data

    def _refuse_not_offered(self) -> None:
        """An address kept from earlier may suppose what is known by now: that is told, not left out."""
        for name in self.data:
            known = name in INPUTS or name.partition("_")[0] in PAIRED or name == "undone"
            if known and name not in self.fields and self.data[name]:
                self.add_error(
                    None,
                    f"{name}={self.data[name]} cannot be supposed of this vehicle: it is known by now, is not there, "
                    "or waits for a finished inspection. Begin again.",
                )

    def _whole(self, what: str, *, answer: str, rows: tuple[int, ...], said: str) -> None:
        """Of each row both parts are given, and nothing is chosen twice (kinds may be)."""
        seen: set[str] = set()
        for row in rows:
            chose, told = self._said(f"{what}_{row}"), self._said(f"{answer}_{row}")
            if chose and not told and f"{answer}_{row}" not in self.errors:
                self.add_error(f"{answer}_{row}", f"Choose the {said}.")
            if told and not chose and f"{what}_{row}" not in self.errors:
                self.add_error(f"{what}_{row}", "Choose what it is about.")
            if chose in seen and what != "kind":
                self.add_error(f"{what}_{row}", "This one is chosen above already. Keep one of the two.")
            seen.update({chose} - {""})

    def _said(self, name: str) -> str:
        return str(self.cleaned_data.get(name) or "")

    def plan(self) -> Plan:
        """What is supposed, as the query takes it. Of a sound form."""
        given = self.cleaned_data
        pairs = {
            kind: {
                self._said(f"{kind}_{row}"): self._said(f"{answer}_{row}")
                for row in ROWS
                if self._said(f"{kind}_{row}")
            }
            for kind, answer in (("check", "grade"), ("component", "standing"))
        }
        return Plan(
            grades={code: int(grade) for code, grade in pairs["check"].items()},
            standings=pairs["component"],
            undone=frozenset(int(pk) for pk in given.get("undone", ())),
            added=[
                Addition(
                    kind=self._said(f"kind_{row}"), fitting=self._said(f"fitting_{row}"),
                    component=self._said(f"changes_{row}"),
                )
                for row in MODIFICATIONS if self._said(f"kind_{row}")
            ],
            inputs={name: given[name] for name in self.here.missing if given.get(name) not in (None, "")},
            cost=given.get("cost"),
        )  # fmt: skip

    # What a template shows together.

    def _rows(self, *names: str, rows: tuple[int, ...]) -> list[list[forms.BoundField]]:
        return [[self[f"{name}_{row}"] for name in names if f"{name}_{row}" in self.fields] for row in rows]

    def check_rows(self) -> list[list[forms.BoundField]]:
        return self._rows("check", "grade", rows=ROWS) if self.here.checks else []

    def component_rows(self) -> list[list[forms.BoundField]]:
        return self._rows("component", "standing", rows=ROWS) if self.here.components else []

    def added_rows(self) -> list[list[forms.BoundField]]:
        return self._rows("kind", "fitting", "changes", rows=MODIFICATIONS)

    def input_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.here.missing]

    def undone_field(self) -> forms.BoundField | None:
        return self["undone"] if "undone" in self.fields else None


def _input(name: str) -> forms.Field:
    if name == "mileage":
        widget = forms.NumberInput(attrs={"inputmode": "numeric"})
        return forms.IntegerField(label="Mileage", required=False, min_value=0, max_value=2_000_000, widget=widget)
    if name in WORDS:
        return forms.ChoiceField(label=TITLES[name], required=False, choices=WORDS[name])
    return forms.CharField(label=TITLES[name], required=False, max_length=60)
