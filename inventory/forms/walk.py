"""What is said at one station of the walk."""

from typing import Any

from django import forms

from inventory.forms.fields import chosen
from inventory.queries.inspections import CheckFound
from inventory.queries.walk import FeatureLine
from inventory.rules.flags import compared_label
from inventory.rules.limits import bound, limit_text
from inventory.rules.walk import Rest
from inventory.rules.words import Basis, EngineState, Grade, Verdict

GRADES = [(str(grade), label) for grade, label in Grade.choices]
OTHERS = [
    (verdict.value, str(verdict.label))
    for verdict in (Verdict.NOT_SEEN, Verdict.DELETED_ON_PURPOSE, Verdict.NOT_FITTED_WHEN_NEW)
]
_BASES = [basis for basis in chosen(Basis) if basis[0] != Basis.NOT_ESTABLISHED]


class CheckForm(forms.Form):
    """One check: a grade, or why there is none. Nothing is preselected: no answer is no pass.

    What the page showed travels along, so that only what the person changed is written.
    """

    answer = forms.ChoiceField(
        label="What did you find?",
        choices=[*GRADES, *OTHERS],
        required=False,
        widget=forms.RadioSelect,
        show_hidden_initial=True,
    )
    basis = forms.ChoiceField(
        label="What it rests on", choices=_BASES, required=False, widget=forms.Select, show_hidden_initial=True
    )
    reading = forms.DecimalField(
        required=False, max_digits=10, decimal_places=3, show_hidden_initial=True,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )  # fmt: skip
    compared_with = forms.DecimalField(
        required=False, min_value=0, max_digits=10, decimal_places=3, show_hidden_initial=True,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )  # fmt: skip
    note = forms.CharField(
        label="Note", required=False, max_length=500, show_hidden_initial=True,
        widget=forms.Textarea(attrs={"rows": 2, "placeholder": " "}),  # so that the style sheet can tell an empty one
    )  # fmt: skip

    def __init__(self, sent: Any = None, *, found: CheckFound) -> None:
        self.presumed = Basis.MEASURED if found.check.unit else Basis.SEEN
        super().__init__(sent, initial=_shown(found, basis=self.presumed), prefix=found.check.code)
        self.check = found.check
        self.found = found
        if found.check.unit:
            self.fields["reading"].label = f"Reading, {found.check.unit}"
        else:
            del self.fields["reading"]
        label = compared_label(found.check)
        if label:
            self.fields["compared_with"].label = label
        else:
            del self.fields["compared_with"]

    @property
    def initial_fields(self) -> str:
        """What the page showed as the answer, for radio buttons that are laid out one by one."""
        return self["answer"].as_hidden(only_initial=True)

    @property
    def limit(self) -> str:
        """The published limit of the reading, as it stands beside it."""
        return limit_text(self.check.limit) if self.check.limit else ""

    @property
    def beyond(self) -> dict[str, str]:
        """The same limit as a side and a figure, for a device without signal; empty where the maker's is needed."""
        found = bound(self.check.limit) if self.check.limit else None
        return {"side": found[0].value, "figure": str(float(found[1]))} if found else {}

    def clean(self) -> dict[str, Any]:
        given = self.cleaned_data
        if not self.has_changed():
            return given
        if not given.get("answer") and "answer" not in self.errors:
            self.add_error("answer", "Choose a grade, or say why there is none.")
        if given.get("answer") == Verdict.NOT_SEEN and given.get("reading") is not None:
            self.add_error("reading", "A reading was given, so it was seen. Grade it, or take the reading out.")
        return given

    def values(self) -> dict[str, Any]:
        """What the action takes. What was not seen rests on nothing."""
        answer = self.cleaned_data["answer"]
        basis = Basis.NOT_ESTABLISHED if answer == Verdict.NOT_SEEN else self.cleaned_data["basis"] or self.presumed
        return {
            "check_code": self.check.code,
            **answer_values(answer),
            "basis": basis,
            "reading": self.cleaned_data.get("reading"),
            "compared_with": self.cleaned_data.get("compared_with"),
            "note": self.cleaned_data["note"],
        }


def answer_values(answer: str) -> dict[str, Any]:
    """Verdict and grade of one answer: a digit is a grade."""
    graded = answer.isdigit()
    return {"verdict": Verdict.GRADED if graded else answer, "grade": int(answer) if graded else None}


def _shown(found: CheckFound, *, basis: str) -> dict[str, Any]:
    row = found.result
    if row is None:
        return {"basis": basis}
    answer = str(row.grade) if row.grade is not None else row.verdict
    if row.verdict != Verdict.NOT_SEEN:  # whoever sees it now says anew what that rests on
        basis = row.basis
    return {
        "answer": answer, "basis": basis, "reading": found.reading, "compared_with": found.compared_with,
        "note": row.note,
    }  # fmt: skip


class StationForm(forms.Form):
    """What is said of a station as a whole: how warm the engine is, and one tap for what is left."""

    engine = forms.ChoiceField(
        label="The engine now", choices=chosen(EngineState), required=False, widget=forms.RadioSelect,
        show_hidden_initial=True,
    )  # fmt: skip
    rest = forms.ChoiceField(choices=[("", ""), *Rest.choices], required=False, widget=forms.HiddenInput)

    @property
    def initial_fields(self) -> str:
        return self["engine"].as_hidden(only_initial=True)


class FeatureForm(forms.Form):
    """One thing that decides on questions: yes, no, or nobody looked yet."""

    present = forms.ChoiceField(
        choices=[("yes", "yes"), ("no", "no"), ("", "not known yet")], required=False, widget=forms.RadioSelect,
        show_hidden_initial=True,
    )  # fmt: skip

    def __init__(self, sent: Any = None, *, line: FeatureLine) -> None:
        shown = {True: "yes", False: "no", None: ""}[line.present]
        super().__init__(sent, initial={"present": shown}, prefix=line.feature.value)
        self.feature = line.feature
        self.fields["present"].label = str(line.feature.label).capitalize()

    @property
    def initial_fields(self) -> str:
        return self["present"].as_hidden(only_initial=True)

    def clean_present(self) -> str:
        given = str(self.cleaned_data["present"])
        if not given and self.initial["present"]:
            raise forms.ValidationError("It was answered before: say yes or no.")
        return given

    def says(self, *, rest: str) -> bool:
        """Whether it has something to record: what the person changed, or what `rest` says of one nobody answered."""
        return self.has_changed() or (rest == "no" and not self.cleaned_data["present"])

    def values(self) -> dict[str, Any]:
        return {"feature": self.feature.value, "present": self.cleaned_data["present"] == "yes"}


class ClearFlagForm(forms.Form):
    """The owner says why a safety flag no longer stops anybody."""

    reason = forms.CharField(
        label="Why it is cleared", max_length=500, widget=forms.Textarea(attrs={"rows": 2}),
        help_text="What was done, by whom, on which date; or why the reading does not apply.",
    )  # fmt: skip
