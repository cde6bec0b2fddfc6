"""What is said at one station of the walk, and in the component ledger."""

from typing import Any

from django import forms

from inventory.forms.fields import chosen
from inventory.queries.inspections import CheckFound, LedgerLine
from inventory.rules.words import Basis, Grade, Standing, Verdict

_OTHERS = (Verdict.NOT_SEEN, Verdict.DELETED_ON_PURPOSE, Verdict.NOT_FITTED_WHEN_NEW)
ANSWERS = [
    *((str(grade), f"{grade} · {label}") for grade, label in Grade.choices),
    *((verdict.value, str(verdict.label).capitalize()) for verdict in _OTHERS),
]


class CheckForm(forms.Form):
    """One check: a grade, or why there is none. Nothing is preselected: no answer is no pass."""

    answer = forms.ChoiceField(
        label="What did you find?",
        choices=ANSWERS,
        widget=forms.RadioSelect,
        error_messages={"required": "Choose a grade, or say why there is none."},
    )
    basis = forms.ChoiceField(
        label="Basis",
        choices=chosen(Basis),
        required=False,
        widget=forms.RadioSelect,
    )
    reading = forms.DecimalField(
        required=False, min_value=0, max_digits=10, decimal_places=3,
        widget=forms.NumberInput(attrs={"inputmode": "decimal", "step": "any"}),
    )  # fmt: skip
    note = forms.CharField(label="Note", required=False, max_length=500, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, sent: Any = None, *, found: CheckFound) -> None:
        super().__init__(sent, initial=_shown(found), prefix=found.check.code)
        self.check = found.check
        if found.check.unit:
            self.fields["reading"].label = f"Reading, {found.check.unit}"
        else:
            del self.fields["reading"]

    def clean(self) -> dict[str, Any]:
        given = self.cleaned_data
        unseen = given.get("answer") == Verdict.NOT_SEEN
        if given.get("answer") and not unseen and not given.get("basis") and "basis" not in self.errors:
            self.add_error("basis", "Say what this rests on.")
        if unseen and given.get("reading") is not None:
            self.add_error("reading", "A reading was given, so it was seen. Grade it, or take the reading out.")
        return given

    def values(self) -> dict[str, Any]:
        """What the action takes. What was not seen rests on nothing."""
        answer = self.cleaned_data["answer"]
        graded = answer.isdigit()
        return {
            "check_code": self.check.code,
            "verdict": Verdict.GRADED if graded else answer,
            "grade": int(answer) if graded else None,
            "basis": Basis.NOT_ESTABLISHED if answer == Verdict.NOT_SEEN else self.cleaned_data["basis"],
            "reading": self.cleaned_data.get("reading"),
            "note": self.cleaned_data["note"],
        }


def _shown(found: CheckFound) -> dict[str, Any]:
    row = found.result
    if row is None:
        return {}
    answer = str(row.grade) if row.grade is not None else row.verdict
    basis = "" if row.verdict == Verdict.NOT_SEEN else row.basis  # whoever sees it now says anew what that rests on
    return {"answer": answer, "basis": basis, "reading": found.reading, "note": row.note}


class ComponentForm(forms.Form):
    """One line of the ledger. What the page showed travels along: only what the person changed is written."""

    standing = forms.ChoiceField(
        label="Standing", required=False, choices=chosen(Standing, empty="Nothing said"), show_hidden_initial=True
    )
    basis = forms.ChoiceField(
        label="Basis", required=False, choices=chosen(Basis, empty="Nothing said"), show_hidden_initial=True
    )
    as_found = forms.CharField(label="As found", required=False, max_length=120, show_hidden_initial=True)
    as_built = forms.CharField(
        label="As built", help_text="What plate or papers say.", required=False, max_length=120,
        show_hidden_initial=True,
    )  # fmt: skip
    as_built_basis = forms.ChoiceField(
        label="Basis of as built", required=False, choices=chosen(Basis, empty="Nothing said"), show_hidden_initial=True
    )

    def __init__(self, sent: Any = None, *, line: LedgerLine) -> None:
        row = line.record
        shown = {name: getattr(row, name) for name in self.base_fields} if row else {}
        super().__init__(sent, initial=shown, prefix=line.component.code)
        self.component = line.component
        self.record = row

    def clean(self) -> dict[str, Any]:
        given = self.cleaned_data
        if not self.has_changed():
            return given
        for name, what in (("standing", "Say its standing"), ("basis", "Say what the standing rests on")):
            if not given.get(name) and name not in self.errors:
                self.add_error(name, f"{what}; “not established” is an answer.")
        if given.get("as_built") and given.get("as_built_basis") in {"", None, Basis.NOT_ESTABLISHED}:
            self.add_error("as_built_basis", "Say where “as built” was read: documented, seen or told.")
        return given

    def values(self) -> dict[str, Any]:
        given = self.cleaned_data
        built = given["as_built_basis"] if given["as_built"] else Basis.NOT_ESTABLISHED
        return {**given, "as_built_basis": built, "component": self.component.code}
