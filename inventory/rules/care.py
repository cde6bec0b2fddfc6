"""What a standing vehicle wants, and when it is due. All of it is common practice: no source is known to us."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from inventory.errors import Refused
from inventory.rules import battery
from inventory.rules.floor_words import CareKind

START_UP_CAUTION = (
    "A running engine: outdoors or with the exhaust led away, brake set, somebody beside it, an extinguisher at hand. "
    "Follow the shop's safety rules."
)
NO_SOURCE = "Common practice, no source. Set what your vehicles want."


@dataclass(frozen=True)
class Rule:
    """How often one kind of care is due. Without days it is not wanted."""

    kind: str
    every_days: int | None
    what: str = ""

    @property
    def said(self) -> str:
        often = "not wanted" if self.every_days is None else f"each {self.every_days} days"
        return f"{CareKind(self.kind).label.capitalize()}: {often}{f'. {self.what}' if self.what else ''}"


STARTING_SET = (
    Rule(CareKind.BATTERY, 30, "Read the voltage at rest. Charge it where it is low."),
    Rule(CareKind.START_UP, 14, "Run it until it is warm."),
    Rule(CareKind.TYRE_PRESSURE, 30, "All four, cold; move it a little so that it stands on another spot."),
    Rule(CareKind.COVER, 7, "Damp, mice, and whether the cover rubs."),
)


@dataclass(frozen=True)
class Due:
    """Care that is wanted since a day, with what was done last."""

    kind: str
    due_on: date
    last_on: date | None
    every_days: int
    what: str

    @property
    def label(self) -> str:
        return CareKind(self.kind).label

    def days_over(self, today: date) -> int:
        return (today - self.due_on).days


def in_effect(lot: Iterable[Rule], *, own: Iterable[Rule] = ()) -> list[Rule]:
    """The rule of the stay goes before the rule of the lot; in the order of the kinds."""
    rules = {**{rule.kind: rule for rule in lot}, **{rule.kind: rule for rule in own}}
    return [rules[kind] for kind in CareKind if kind in rules]


def care_due(rules: Iterable[Rule], *, arrived_on: date, done: Mapping[str, date], today: date) -> list[Due]:
    """What is due by today: so many days after it was done last, or after the arrival."""
    found = []
    for rule in rules:
        if rule.every_days is None:
            continue
        last = done.get(rule.kind)
        due_on = (last or arrived_on) + timedelta(days=rule.every_days)
        if due_on <= today:
            found.append(Due(rule.kind, due_on, last, rule.every_days, rule.what))
    return found


@dataclass(frozen=True)
class Gauge:
    """What is read at one kind of care, and within which bounds a reading is possible."""

    unit: str
    label: str
    most: Decimal


GAUGES = {
    CareKind.BATTERY.value: Gauge("V", "Volts at rest", Decimal(20)),
    CareKind.TYRE_PRESSURE.value: Gauge("psi", "Pressure, psi", Decimal(150)),
}


def check_reading(reading: Decimal, *, kind: str, field: str = "reading") -> Gauge:
    """The gauge a reading belongs to; refused where there is none or where it cannot read that."""
    gauge = GAUGES.get(kind)
    if gauge is None:
        raise Refused(
            "no_gauge", f"{CareKind(kind).label.capitalize()} has no reading; {reading} was given.", field=field,
            got=reading, mend="Leave it empty, or write it in the note.",
        )  # fmt: skip
    if not 0 <= reading <= gauge.most:
        raise Refused(
            "out_of_range", f"{reading} {gauge.unit} cannot be.", field=field, got=reading,
            mend=f"Give it in {gauge.unit}, 0 to {gauge.most}.",
        )  # fmt: skip
    return gauge


def reading_said(reading: Decimal | None, *, unit: str, system_volts: int | None) -> str:
    """A reading in words; volts with the charge they stand for, where the system's voltage is known."""
    if reading is None:
        return ""
    read = f"{reading.normalize():f} {unit}"
    if unit != GAUGES[CareKind.BATTERY].unit:
        return read
    if system_volts is None:
        return f"{read}; the charge is not known: record whether the system has 6 or 12 V, among the figures"
    asked = battery.question_battery(float(reading), system_volts=system_volts)
    if asked is not None:
        return f"{read}. {asked.message} {asked.mend}"
    share = battery.state_of_charge(float(reading), system_volts=system_volts)
    return f"{read}, about {share:.0f} % charged if it had rested for hours (common practice)"
