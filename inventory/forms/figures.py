"""The figures page: five tyres and one more, engine, driveline, electrics and fluid.

What the page showed travels along with each figure, so only what the person changed is a statement of theirs; the
basis is said anew each time, since it is that of the change.
"""

import uuid
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import forms

from inventory.errors import Refused
from inventory.forms.fields import OnceKey, chosen
from inventory.queries.figures import Part, VehicleFigures
from inventory.rules.figure_ranges import PRESSURE, RANGES, plain, read_figure, read_pressures
from inventory.rules.words import Basis, DisplacementUnit, DrivenAxle, FluidColour, FluidKind, TyrePosition

AS_WRITTEN = {"autocapitalize": "characters", "autocomplete": "off", "spellcheck": "false"}


class FigureInput(forms.CharField):
    """A number as people type it, in the range of its figure. Becomes a Decimal, or None when empty."""

    def __init__(self, name: str, **kwargs: Any) -> None:
        self.figure = name
        found = RANGES[name]
        label = f"{found.label}, {found.unit}" if found.unit else found.label
        attrs = {"inputmode": "decimal" if found.places else "numeric", "autocomplete": "off"}
        kwargs = {"label": label, "required": False, "widget": forms.TextInput(attrs=attrs), **kwargs}
        super().__init__(show_hidden_initial=True, **kwargs)

    def to_python(self, value: Any) -> Any:
        text = str(super().to_python(value) or "")
        return None if not text else _or_error(lambda: read_figure(self.figure, text))

    def prepare_value(self, value: Any) -> Any:
        return plain(value) if isinstance(value, Decimal) else value


class PressuresInput(forms.CharField):
    """One number for each cylinder, in order, in one line."""

    def to_python(self, value: Any) -> Any:
        text = str(super().to_python(value) or "")
        return None if not text else _or_error(lambda: read_pressures(text))

    def prepare_value(self, value: Any) -> Any:
        return " ".join(value) if isinstance(value, list) else value


def _or_error(read: Any) -> Any:
    try:
        return read()
    except Refused as problem:
        raise forms.ValidationError(str(problem), code=problem.code) from problem


def _one_of(words: Any, label: str, **more: Any) -> forms.ChoiceField:
    choices = chosen(words, empty="Not read") if hasattr(words, "choices") else words
    return forms.ChoiceField(label=label, choices=choices, required=False, show_hidden_initial=True, **more)


class StatementForm(forms.Form):
    """Figures that are shown as they count, and the basis and note of whoever changes them."""

    together: tuple[tuple[str, ...], ...] = ()

    basis = forms.ChoiceField(
        label="Basis", choices=chosen(Basis, empty="Choose"), required=False
    )  # fmt: skip
    note = forms.CharField(label="Note", required=False, max_length=200)
    key = OnceKey()

    def __init__(self, sent: Any = None, *, part: Part, prefix: str) -> None:
        super().__init__(sent, initial=dict(part.values), prefix=prefix)
        self.part = part
        self.order_fields([*(name for name in self.fields if name not in _SAID_OF_ALL), *_SAID_OF_ALL])

    @property
    def changed(self) -> list[str]:
        """The figures that were changed, each with what belongs to it."""
        found = [name for name in self.changed_data if name not in _SAID_OF_ALL]
        pairs = [pair for pair in self.together if set(pair) & set(found)]
        return [name for name in self.fields if name in found or any(name in pair for pair in pairs)]

    @property
    def says_something(self) -> bool:
        return bool(self.changed or self.cleaned_data.get("note"))

    def clean(self) -> dict[str, Any]:
        given = self.cleaned_data
        if (self.changed or given.get("note")) and not given.get("basis") and "basis" not in self.errors:
            self.add_error("basis", "Say what this rests on.")
        return given

    def values(self, *, and_also: tuple[str, ...] = ()) -> dict[str, Any]:
        """What the action takes. The key holds the content too: changed and sent again, it is another row."""
        given = self.cleaned_data
        names = [name for name in self.fields if name in self.changed or name in and_also]
        said = {
            "figures": {name: given[name] for name in names}, "basis": given["basis"], "note": given["note"],
        }  # fmt: skip
        key = given["key"]
        return {**said, "client_key": uuid.uuid5(key, f"{self.prefix} {said!r}") if key else None}


_SAID_OF_ALL = ("basis", "note", "key")


def _written(label: str, most: int, **more: Any) -> forms.CharField:
    widget = forms.TextInput(attrs=AS_WRITTEN)
    return forms.CharField(
        label=label, required=False, max_length=most, widget=widget, show_hidden_initial=True, **more
    )  # fmt: skip


class TyreForm(StatementForm):
    size = _written("Size", 80)
    tin = _written("TIN", 60)
    rim = _written("Rim", 40)


class AllFourForm(forms.Form):
    all_four = forms.BooleanField(label="All four tyres like this one: size and rim", required=False)


class TyresForm:
    """All tyres of the vehicle at once, and the tick that makes four alike."""

    def __init__(self, sent: Any = None, *, figures: VehicleFigures) -> None:
        self.rows = [TyreForm(sent, part=part, prefix=part.code) for part in figures.tyres]
        self.head = AllFourForm(sent)

    @property
    def main_rows(self) -> list[TyreForm]:
        return self.rows[:-1]

    @property
    def other(self) -> TyreForm:
        return self.rows[-1]

    @property
    def model(self) -> TyreForm:
        """The tyre that the others are like: the first in walking order."""
        return self.rows[0]

    @property
    def wrong(self) -> bool:
        return bool(self.head.errors) or any(row.errors for row in self.rows)

    def is_valid(self) -> bool:
        sound = all([self.head.is_valid(), *(row.is_valid() for row in self.rows)])
        if sound and self.all_four:
            self._check_alike()
        return not self.wrong

    @property
    def all_four(self) -> bool:
        return bool(self.head.cleaned_data["all_four"])

    def _check_alike(self) -> None:
        """Nothing that was typed for another tyre is written over."""
        same = self.model.cleaned_data
        if not (same["size"] or same["rim"]):
            self.head.add_error("all_four", "Give the size or the rim of this one first; each tyre has its own TIN.")
        if not same["basis"]:
            self.model.add_error("basis", "Say what this rests on.")
        for row in self.rows[1:4]:
            for name in {"size", "rim"} & set(row.changed):
                if row.cleaned_data[name] != same[name]:
                    said = row.cleaned_data[name] or "nothing"
                    message = (
                        f"“{said}” is not like the {self.model.part.title.lower()}. Take the tick out, or mend it."
                    )
                    row.add_error(name, message)

    def to_write(self) -> list[tuple[str, bool, dict[str, Any]]]:
        """For each tyre of which something was said: its place, whether all four are like it, and what was said."""
        written = []
        for row in self.rows:
            leads = row is self.model and self.all_four
            if leads:
                also = tuple(name for name in ("size", "rim") if row.cleaned_data[name])
                written.append((TyrePosition(row.part.code).value, True, row.values(and_also=also)))
            elif row.says_something:
                written.append((TyrePosition(row.part.code).value, False, row.values()))
        return written


class EngineForm(StatementForm):
    together = (("stated_displacement", "displacement_unit"),)

    bore_in = FigureInput("bore_in")
    stroke_in = FigureInput("stroke_in")
    cylinders = FigureInput("cylinders")
    stated_displacement = FigureInput("stated_displacement")
    displacement_unit = _one_of(DisplacementUnit, "Its unit")
    compression_psi = PressuresInput(
        label=f"{PRESSURE.label}, {PRESSURE.unit}", required=False, show_hidden_initial=True,
        help_text=f"Each cylinder in order, such as {PRESSURE.example}. Warm, throttle open, all plugs out.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip
    vacuum_inhg = FigureInput("vacuum_inhg")
    carburettor_cfm = FigureInput("carburettor_cfm")
    redline_rpm = FigureInput("redline_rpm")

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        if given.get("stated_displacement") is not None and not given.get("displacement_unit"):
            self.add_error("displacement_unit", "Give the unit of the stated displacement: cu in, cc or L.")
        if "stated_displacement" in given and given["stated_displacement"] is None and given.get("displacement_unit"):
            self.add_error("stated_displacement", "A unit was given without its figure. Give it, or take the unit out.")
        return given


class DrivelineForm(StatementForm):
    axle_ratio = FigureInput("axle_ratio")
    top_gear_ratio = FigureInput("top_gear_ratio")
    driven_axle = _one_of(
        [("", "Not said: taken for the rear"), *chosen(DrivenAxle)], "Driven axle"
    )  # fmt: skip
    redline_rpm = FigureInput("redline_rpm")
    claimed_top_mph = FigureInput("claimed_top_mph")


class ElectricsForm(StatementForm):
    together = (("rest_volts", "rest_hours"),)

    system_volts = _one_of([("", "Not read"), ("6", "6 V"), ("12", "12 V")], "System")
    rest_volts = FigureInput("rest_volts")
    rest_hours = FigureInput("rest_hours")
    charging_volts = FigureInput("charging_volts", help_text="At the battery, engine running.")
    fluid_kind = _one_of(FluidKind, "Brake fluid", help_text="By cap, label or papers.")
    fluid_colour = _one_of(FluidColour, "Its colour")

    def clean(self) -> dict[str, Any]:
        given = super().clean()
        if given.get("rest_hours") is not None and "rest_volts" in given and given["rest_volts"] is None:
            self.add_error("rest_hours", "Hours at rest belong to a voltage. Give it, or take the hours out.")
        return given

    def values(self, *, and_also: tuple[str, ...] = ()) -> dict[str, Any]:
        said = super().values(and_also=and_also)
        figures: dict[str, Any] = said["figures"]
        if figures.get("system_volts"):
            figures["system_volts"] = int(figures["system_volts"])
        return said


SECTIONS: Mapping[str, type[StatementForm]] = {
    "engine": EngineForm, "driveline": DrivelineForm, "electrics": ElectricsForm,
}  # fmt: skip


def section_form(section: str, sent: Any = None, *, figures: VehicleFigures) -> StatementForm:
    return SECTIONS[section](sent, part=getattr(figures, section), prefix=section)
