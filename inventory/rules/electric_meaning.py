"""What battery and brake fluid say, and what they ask."""

from dataclasses import dataclass
from decimal import Decimal

from inventory.rules import battery
from inventory.rules.brake_fluid import FLUIDS, Fluid, question_fluids
from inventory.rules.questions import Meaning, Question, Said, asked
from inventory.rules.words import FluidColour, FluidKind

BATTERY, FLUID = "Battery", "Brake fluid"
AT_REST_HOURS = 4
"""A battery read sooner after charging shows more than it holds. Hours are needed, how many is our choice."""

_GRADES = {FluidKind.DOT_3: Fluid.DOT_3, FluidKind.DOT_4: Fluid.DOT_4, FluidKind.DOT_5: Fluid.DOT_5}
_SECTION = "FMVSS 116 (49 CFR 571.116)"


@dataclass(frozen=True, kw_only=True)
class Electrics:
    system_volts: int | None = None
    rest_volts: Decimal | None = None
    rest_hours: Decimal | None = None
    charging_volts: Decimal | None = None
    fluid_kind: str = ""
    fluid_colour: str = ""


def read_electrics(electrics: Electrics) -> Said:
    meanings = [*_charge(electrics), *_fluid(electrics)]
    questions = [*_battery_questions(electrics), *_fluid_questions(electrics)]
    return Said(tuple(meanings), tuple(questions))


def _charge(electrics: Electrics) -> list[Meaning]:
    if electrics.rest_volts is None:
        return []
    if electrics.system_volts is None:
        text = "Give the system's voltage, 6 or 12 V, to read the state of charge."
        return [Meaning("rest_volts", text)]
    share = battery.state_of_charge(float(electrics.rest_volts), system_volts=electrics.system_volts)
    rested = "" if electrics.rest_hours is not None else ", if it had rested for hours"
    return [Meaning("rest_volts", f"About {share:.0f} % charged{rested} (common practice).")]


def _battery_questions(electrics: Electrics) -> list[Question]:
    questions: list[Question] = []
    rest, charging, hours = electrics.rest_volts, electrics.charging_volts, electrics.rest_hours
    if rest is not None and electrics.system_volts is not None:
        found = battery.question_battery(float(rest), system_volts=electrics.system_volts)
        questions += asked(found, where=BATTERY)
    if rest is not None and hours is not None and hours < AT_REST_HOURS:
        text = f"It had rested for {hours.normalize():f} hours; read it again after {AT_REST_HOURS} or more."
        questions.append(Question(BATTERY, text))
    if rest is not None and charging is not None and charging <= rest:
        text = (
            f"{charging.normalize():f} V with the engine running is no more than the {rest.normalize():f} V at rest. "
            "Look at the generator, its belt and regulator."
        )
        questions.append(Question(f"{BATTERY}, charging", text))
    return questions


def _fluid(electrics: Electrics) -> list[Meaning]:
    grade = _GRADES.get(FluidKind(electrics.fluid_kind)) if electrics.fluid_kind else None
    if grade is None:
        return []
    figures = FLUIDS[grade]
    sort = "silicone, never mixed with the others" if figures.silicone else "never mixed with silicone"
    text = f"{grade}: {figures.colour}, {sort}; boils at {figures.dry_f} °F fresh, {figures.wet_f} °F with water in it."
    return [Meaning("fluid_kind", text)]


def _fluid_questions(electrics: Electrics) -> list[Question]:
    grade = _GRADES.get(FluidKind(electrics.fluid_kind)) if electrics.fluid_kind else None
    if electrics.fluid_colour == FluidColour.DARK:
        return [Question(FLUID, "It is dark or cloudy. Find out when it was last changed, and have it tested.")]
    if grade is None:
        return []
    if electrics.fluid_colour == FluidColour.PURPLE:
        return asked(question_fluids(grade, found=Fluid.DOT_5), where=FLUID, section=_SECTION)
    if electrics.fluid_colour == FluidColour.CLEAR_TO_AMBER and FLUIDS[grade].silicone:
        text = (
            f"The fluid is stated as {grade} ({FLUIDS[grade].colour}), but a colourless to amber one was seen, as "
            f"{Fluid.DOT_3} and {Fluid.DOT_4} are. They are never mixed: find out which is in the system before "
            "anything is filled up."
        )
        return [Question(FLUID, text, _SECTION)]
    return []
