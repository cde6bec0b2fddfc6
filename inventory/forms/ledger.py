"""What is said of one component, and when the vehicle was built."""

from typing import Any

from django import forms

from inventory.forms.fields import OnceKey, WindowInput, check_span_given, chosen, once, span_of
from inventory.forms.versioned import SeenForm
from inventory.queries.ledger import LedgerLine
from inventory.rules.date_codes import written
from inventory.rules.words import Basis, Standing

NOTHING_SAID = "Nothing said"
AS_READ = {"autocapitalize": "characters", "autocomplete": "off", "spellcheck": "false"}
SAID_BASIS = [(value, label) for value, label in chosen(Basis, empty=NOTHING_SAID) if value != Basis.NOT_ESTABLISHED]
DATE_HINT = "1967, 1967-05 or 1967-05-14."


class LineForm(SeenForm):
    """One line of the ledger. What was shown travels along: a line that came in between is not written over."""

    standing = forms.ChoiceField(label="Standing", required=False, choices=chosen(Standing, empty=NOTHING_SAID))
    basis = forms.ChoiceField(label="Basis of the standing", required=False, choices=chosen(Basis, empty=NOTHING_SAID))
    not_fitted = forms.BooleanField(
        label="The vehicle never had one",
        help_text="Neither when new nor now: it leaves the weighing. What was added later is non-original.",
        required=False,
    )
    as_found = forms.CharField(label="As found", help_text="What is there now.", required=False, max_length=120)
    number = forms.CharField(
        label="Part or casting number", help_text="As it stands there.", required=False, max_length=60,
        widget=forms.TextInput(attrs=AS_READ),
    )  # fmt: skip
    number_basis = forms.ChoiceField(
        label="Basis of the number", help_text="Measured means read off the part itself.", required=False,
        choices=SAID_BASIS,
    )  # fmt: skip
    date_code = forms.CharField(
        label="Date code", help_text="As it stands there.", required=False, max_length=40,
        widget=forms.TextInput(attrs=AS_READ),
    )  # fmt: skip
    earliest_on = WindowInput(label="Made in", help_text=DATE_HINT, required=False)
    latest_on = WindowInput(label="Or until", help_text="Where it is a span.", required=False)
    date_basis = forms.ChoiceField(
        label="Basis of the date", help_text="Measured and seen mean read off the part.", required=False,
        choices=SAID_BASIS,
    )  # fmt: skip
    as_built = forms.CharField(
        label="As built", help_text="What plate or papers say. It never fills “as found”.", required=False,
        max_length=120,
    )  # fmt: skip
    as_built_basis = forms.ChoiceField(label="Basis of as built", required=False, choices=SAID_BASIS)
    note = forms.CharField(label="Note", required=False, max_length=500, widget=forms.Textarea(attrs={"rows": 2}))
    after = forms.IntegerField(widget=forms.HiddenInput)
    key = OnceKey()

    def __init__(self, sent: Any = None, *, line: LedgerLine, typed: Any = None) -> None:
        """`typed` shows again what somebody typed but did not send to be written."""
        shown = _shown(line)
        if typed is not None:
            shown |= {name: typed.get(name, "") for name in self.base_fields if name != "key"}
        super().__init__(sent, initial=shown)

    @property
    def codes(self) -> list[str]:
        """The codes in the form, as read: what the decoder table is asked for."""
        return [str(self[name].value() or "").strip() for name in ("date_code", "number")]

    @property
    def plate(self) -> str:
        """What the plate says of the component, which may be a code too."""
        return str(self["as_built"].value() or "").strip()

    @property
    def says_something(self) -> bool:
        return bool(set(self.changed_data) - {"after", "key"})

    def clean(self) -> dict[str, Any]:
        given = self.cleaned_data
        if not self.says_something:
            return given
        if not given.get("not_fitted"):
            for name, what in (("standing", "Say its standing"), ("basis", "Say what the standing rests on")):
                if not given.get(name) and name not in self.errors:
                    self.add_error(name, f"{what}; “not established” is an answer.")
        if given.get("as_built") and not given.get("as_built_basis") and "as_built_basis" not in self.errors:
            self.add_error("as_built_basis", "Say where “as built” was read: documented, seen or told.")
        check_span_given(self)
        return given

    def values(self) -> dict[str, Any]:
        """What the action takes. What is not said rests on nothing; no field fills another."""
        given = span_of(self.cleaned_data)
        if not given["as_built"]:
            given["as_built_basis"] = ""
        for name in ("standing", "basis", "number_basis", "date_basis", "as_built_basis"):
            given[name] = given[name] or Basis.NOT_ESTABLISHED
        return once(given)


def _shown(line: LedgerLine) -> dict[str, Any]:
    row = line.record
    if row is None:
        return {"after": 0}
    names = set(LineForm.base_fields) - {"after", "key", "earliest_on", "latest_on"}
    shown = {name: getattr(row, name) for name in names}
    for name in ("number_basis", "date_basis", "as_built_basis"):
        shown[name] = "" if shown[name] == Basis.NOT_ESTABLISHED else shown[name]
    first, last = written(row.earliest_on, latest=row.latest_on) if row.earliest_on and row.latest_on else ("", "")
    return {**shown, "after": row.pk, "earliest_on": first, "latest_on": last}


class BuildDateForm(forms.Form):
    earliest_on = WindowInput(label="Built in", help_text=DATE_HINT)
    latest_on = WindowInput(label="Or until", help_text="Where it is a span.", required=False)
    basis = forms.ChoiceField(
        label="Basis of the date",
        help_text="A plate can carry a scheduled date: that is documented. Seen means read off the vehicle itself.",
        choices=SAID_BASIS,
        error_messages={"required": "Say what the date rests on."},
    )
    source = forms.CharField(label="Where it was read", max_length=200)
    key = OnceKey()

    def values(self) -> dict[str, Any]:
        return once(span_of(self.cleaned_data))
