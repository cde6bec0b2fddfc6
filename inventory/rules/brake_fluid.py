"""Brake fluid by its grade: FMVSS 116 (49 CFR 571.116) boiling points, and what is never mixed.

Only the 311 °F of DOT 4 was read in print; the other figures are not yet checked against the standard.
"""

from dataclasses import dataclass
from enum import StrEnum

from inventory.rules.engine_figures import above_zero
from inventory.rules.plausibility import Question


class Fluid(StrEnum):
    DOT_3 = "DOT 3"
    DOT_4 = "DOT 4"
    DOT_5 = "DOT 5"


@dataclass(frozen=True)
class FluidFigures:
    """Least boiling point in °F, fresh (dry) and with the water it takes up in use (wet), and the colour."""

    dry_f: int
    wet_f: int
    colour: str
    silicone: bool = False


FLUIDS: dict[Fluid, FluidFigures] = {
    Fluid.DOT_3: FluidFigures(401, 284, "colourless to amber"),
    Fluid.DOT_4: FluidFigures(446, 311, "colourless to amber"),
    Fluid.DOT_5: FluidFigures(500, 356, "purple", silicone=True),
}


def question_boiling_point(boiling_f: float, *, fluid: Fluid) -> Question | None:
    """A measured boiling point, °F, below the least of its grade even with water in it."""
    above_zero(boiling_f=boiling_f)
    figures = FLUIDS[fluid]
    if boiling_f >= figures.wet_f:
        return None
    return Question(
        "brake_fluid_old",
        f"The fluid boils at {boiling_f:g} °F; {fluid} is to keep {figures.wet_f} °F even with water in it.",
        "Have it changed, and find out when that was last done.",
    )


def question_fluids(stated: Fluid, *, found: Fluid) -> Question | None:
    """A fluid found, by its label or colour, that is never mixed with the one stated: silicone with the others."""
    if FLUIDS[stated].silicone == FLUIDS[found].silicone:
        return None
    return Question(
        "brake_fluid_mixed",
        f"The fluid is stated as {stated} ({FLUIDS[stated].colour}), but {found} ({FLUIDS[found].colour}) was found.",
        "They are never mixed: find out which is in the system before anything is filled up.",
    )
