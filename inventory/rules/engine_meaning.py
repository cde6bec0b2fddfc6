"""What the figures of engine and driveline say, and what they ask. Missing figures are missing, never assumed."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from inventory.errors import Refused
from inventory.rules import engine_figures as rules
from inventory.rules.limit_rows import LIMITS
from inventory.rules.plausibility import CC_PER_CU_IN
from inventory.rules.questions import Meaning, Question, Said, asked
from inventory.rules.words import DisplacementUnit

ENGINE, DRIVELINE = "Engine", "Driveline"
USUAL_FILLING = 0.85
"""Share of its displacement a usual engine draws in. Common practice, no source."""

FAR_TOO_LARGE = 1.5
"""A carburettor for half as much again as the engine filled entirely is questioned: our choice, no source."""

CRUISE_MPH = 60
COMPRESSION_SECTION = LIMITS["compression_spread"].rows[0].cited


@dataclass(frozen=True, kw_only=True)
class Engine:
    bore_in: Decimal | None = None
    stroke_in: Decimal | None = None
    cylinders: int | None = None
    stated_displacement: Decimal | None = None
    displacement_unit: str = ""
    compression_psi: Sequence[str] = ()
    vacuum_inhg: Decimal | None = None
    carburettor_cfm: int | None = None
    redline_rpm: int | None = None

    @property
    def computed_cu_in(self) -> float | None:
        if self.bore_in is None or self.stroke_in is None or self.cylinders is None:
            return None
        return rules.displacement_in(
            bore_in=float(self.bore_in), stroke_in=float(self.stroke_in), cylinders=self.cylinders
        )

    @property
    def stated_cc(self) -> float | None:
        if self.stated_displacement is None:
            return None
        value = float(self.stated_displacement)
        per_unit = {DisplacementUnit.CU_IN: CC_PER_CU_IN, DisplacementUnit.CC: 1.0, DisplacementUnit.LITRE: 1000.0}
        return value * per_unit[DisplacementUnit(self.displacement_unit)]


@dataclass(frozen=True, kw_only=True)
class Driveline:
    axle_ratio: Decimal | None = None
    top_gear_ratio: Decimal | None = None
    redline_rpm: int | None = None
    claimed_top_mph: int | None = None
    driven_axle: str = ""


def read_engine(engine: Engine) -> Said:
    parts = (_displacement(engine), _air(engine), _compression(engine), _vacuum(engine))
    return together(*parts)


def together(*parts: Said) -> Said:
    return Said(
        tuple(meaning for part in parts for meaning in part.meanings),
        tuple(question for part in parts for question in part.questions),
    )


def _displacement(engine: Engine) -> Said:
    meanings = []
    computed, stated_cc = engine.computed_cu_in, engine.stated_cc
    if computed is not None:
        text = f"Bore, stroke and cylinders give {computed:.2f} cu in, {computed * CC_PER_CU_IN:,.0f} cc."
        meanings.append(Meaning("bore_in", text))
    if stated_cc is not None:
        text = f"{stated_cc / CC_PER_CU_IN:.1f} cu in, {stated_cc:,.0f} cc."
        meanings.append(Meaning("stated_displacement", text))
    return Said(tuple(meanings), tuple(_displacement_questions(engine)))


def _displacement_questions(engine: Engine) -> list[Question]:
    """Asked in the unit it was stated in."""
    bore, stroke, cylinders, cc = engine.bore_in, engine.stroke_in, engine.cylinders, engine.stated_cc
    if bore is None or stroke is None or cylinders is None or cc is None or engine.stated_displacement is None:
        return []
    if engine.displacement_unit == DisplacementUnit.CU_IN:
        stated = float(engine.stated_displacement)
        found = rules.question_displacement(
            stated, bore_in=float(bore), stroke_in=float(stroke), cylinders=cylinders
        )  # fmt: skip
    else:
        bore_mm, stroke_mm = float(bore) * rules.MM_PER_IN, float(stroke) * rules.MM_PER_IN
        found = rules.question_displacement_metric(cc, bore_mm=bore_mm, stroke_mm=stroke_mm, cylinders=cylinders)
    return asked(found, where=f"{ENGINE}, displacement")


def _air(engine: Engine) -> Said:
    """What the engine can draw at its red line, beside what the carburettor passes."""
    cu_in = engine.computed_cu_in
    if cu_in is None and engine.stated_cc is not None:
        cu_in = rules.cu_in_of_cc(engine.stated_cc)
    if cu_in is None or engine.redline_rpm is None:
        return Said()
    rpm = engine.redline_rpm
    usual = rules.carburettor_cfm(cu_in=cu_in, rpm=rpm, volumetric_efficiency=USUAL_FILLING)
    full = rules.carburettor_cfm(cu_in=cu_in, rpm=rpm)
    text = f"At {rpm:,} rpm the engine draws about {usual:.0f} cu ft a minute, filled to 85 %; {full:.0f} filled fully."
    return Said((Meaning("carburettor_cfm", text),), tuple(_air_questions(engine, usual=usual, full=full)))


def _air_questions(engine: Engine, *, usual: float, full: float) -> list[Question]:
    passes, where = engine.carburettor_cfm, f"{ENGINE}, carburettor"
    if passes is None or usual <= passes <= full * FAR_TOO_LARGE:
        return []
    if passes < usual:
        text = f"It passes {passes:,} cu ft a minute; the engine draws about {usual:.0f} at the red line."
    else:
        text = f"It passes {passes:,} cu ft a minute; the engine draws {full:.0f} at the very most."
    return [Question(where, f"{text} Check its size, the red line and the displacement.")]


def _compression(engine: Engine) -> Said:
    pressures = [float(pressure) for pressure in engine.compression_psi]
    if not pressures:
        return Said()
    where = f"{ENGINE}, compression"
    questions = []
    if engine.cylinders is not None and engine.cylinders != len(pressures):
        text = f"{len(pressures)} pressures were given for {engine.cylinders} cylinders. Give one for each, in order."
        questions.append(Question(where, text))
    try:
        found = rules.compression(pressures)
    except Refused as problem:
        return Said((Meaning("compression_psi", str(problem), unread=True),), tuple(questions))
    each = "; ".join(
        f"{number}: {pressure:g} psi, {100 * pressure / found.highest_psi:.0f} %"
        for number, pressure in enumerate(pressures, 1)
    )
    lowest = (
        f"Lowest {found.lowest_psi:g} psi in cylinder {found.lowest_cylinder}, {found.percent:.0f} % of the highest"
    )
    meanings = (
        Meaning("compression_psi", f"{lowest}, {found.highest_psi:g} psi."),
        Meaning("compression_psi", f"Each in percent of the highest: {each}."),
    )
    questions += asked(rules.question_compression(pressures), where=where, section=COMPRESSION_SECTION)
    return Said(meanings, tuple(questions))


def _vacuum(engine: Engine) -> Said:
    if engine.vacuum_inhg is None:
        return Said()
    low, high = rules.idle_vacuum_in_hg()
    lost = rules.VACUUM_LOST_PER_1000_FT
    text = f"{low:g} to {high:g} inHg is usual at sea level, about {lost:g} less for each 1,000 ft (common practice)."
    question = rules.question_idle_vacuum(float(engine.vacuum_inhg))
    return Said((Meaning("vacuum_inhg", text),), tuple(asked(question, where=f"{ENGINE}, vacuum")))


def read_driveline(driveline: Driveline, *, engine: Engine, tyre_diameter_in: float | None) -> Said:
    """Road speed at the red line in top gear, and what is told of it. The tyre is that of the driven axle."""
    questions = _two_red_lines(driveline, engine=engine)
    rpm = driveline.redline_rpm or engine.redline_rpm
    axle, gear = driveline.axle_ratio, driveline.top_gear_ratio
    if axle is None or gear is None or tyre_diameter_in is None:
        return Said(_lacking(driveline, tyre_diameter_in=tyre_diameter_in), tuple(questions))
    turns = rules.revolutions_per_mile(tyre_diameter_in)
    axle_ratio, gear_ratio = float(axle), float(gear)
    at_cruise = rules.engine_rpm_by_diameter(
        CRUISE_MPH, axle_ratio=axle_ratio, gear_ratio=gear_ratio, tyre_diameter_in=tyre_diameter_in
    )
    tyre = f"with tyres {tyre_diameter_in:.2f} in across"
    meanings = [Meaning("axle_ratio", f"{CRUISE_MPH} mph in top gear is about {at_cruise:,.0f} rpm {tyre}.")]
    if rpm is not None:
        most = rules.road_speed_mph(rpm, axle_ratio=axle_ratio, gear_ratio=gear_ratio, tyre_rev_per_mile=turns)
        meanings.append(Meaning("redline_rpm", f"{rpm:,} rpm in top gear is {most:.1f} mph {tyre}."))
    if rpm is not None and driveline.claimed_top_mph is not None:
        told = rules.question_road_speed(
            driveline.claimed_top_mph, red_line_rpm=rpm, axle_ratio=axle_ratio, gear_ratio=gear_ratio,
            tyre_rev_per_mile=turns,
        )  # fmt: skip
        questions += asked(told, where=f"{DRIVELINE}, road speed")
    return Said(tuple(meanings), tuple(questions))


def _two_red_lines(driveline: Driveline, *, engine: Engine) -> list[Question]:
    one, other = driveline.redline_rpm, engine.redline_rpm
    if one is None or other is None or one == other:
        return []
    text = f"The red line is {one:,} rpm here and {other:,} rpm with the engine. Read the tachometer again."
    return [Question(f"{DRIVELINE}, red line", text)]


def _lacking(driveline: Driveline, *, tyre_diameter_in: float | None) -> tuple[Meaning, ...]:
    if driveline == Driveline(driven_axle=driveline.driven_axle):
        return ()
    named = (
        ("the axle ratio", driveline.axle_ratio), ("the ratio of top gear", driveline.top_gear_ratio),
        ("a tyre size of the driven axle that gives a diameter", tyre_diameter_in),
    )  # fmt: skip
    missing = [name for name, value in named if value is None]
    return (Meaning("axle_ratio", f"The road speed is not known: it needs {' and '.join(missing)}."),)
