"""Brake fluid: FMVSS 116 boiling points by grade, and what is never mixed."""

import pytest

from inventory.errors import Refused
from inventory.rules import brake_fluid
from inventory.rules.brake_fluid import FLUIDS, Fluid


@pytest.mark.parametrize(
    ("fluid", "dry", "wet"),
    # FMVSS 116, °F dry and wet: 311 read in print, the others from memory.
    [(Fluid.DOT_3, 401, 284), (Fluid.DOT_4, 446, 311), (Fluid.DOT_5, 500, 356)],
)
def test_boiling_point_is_questioned_below_the_wet_figure(fluid: Fluid, dry: int, wet: int) -> None:
    assert (FLUIDS[fluid].dry_f, FLUIDS[fluid].wet_f) == (dry, wet)
    assert brake_fluid.question_boiling_point(wet, fluid=fluid) is None
    assert brake_fluid.question_boiling_point(dry, fluid=fluid) is None
    question = brake_fluid.question_boiling_point(wet - 1, fluid=fluid)
    assert question is not None
    assert question.message.startswith(f"The fluid boils at {wet - 1} °F; {fluid} is to keep {wet} °F")


@pytest.mark.parametrize("boiling", [0, -40, float("nan")])
def test_boiling_point_that_is_none_is_refused(boiling: float) -> None:
    with pytest.raises(Refused) as caught:
        brake_fluid.question_boiling_point(boiling, fluid=Fluid.DOT_4)
    assert caught.value.field == "boiling_f"


@pytest.mark.parametrize("stated", list(Fluid))
@pytest.mark.parametrize("found", list(Fluid))
def test_silicone_is_never_mixed_with_the_others(stated: Fluid, found: Fluid) -> None:
    # DOT 5 is silicone and purple; DOT 3 and 4 are colourless to amber.
    question = brake_fluid.question_fluids(stated, found=found)
    assert (question is not None) is ((stated == Fluid.DOT_5) != (found == Fluid.DOT_5))
    if question is not None:
        assert "purple" in question.message
        assert "colourless to amber" in question.message
