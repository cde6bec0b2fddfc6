"""The table of components: one hundred points, codes that stay, and what is told of an emblem."""

import pytest

from inventory.rules.components import (
    ALL_TITLES,
    COMPONENT_TITLES,
    COMPONENTS,
    EARLIER_COMPONENTS,
    EMBLEM_TOLD,
    advice,
)
from inventory.rules.words import Basis

# What the first table of this house held; lines of ledgers and policies were written with these codes.
FIRST_CODES = {
    "engine", "transmission", "rear_axle", "body_shell", "outer_panels", "paint", "interior_trim", "glass", "wheels",
    "instruments",
}  # fmt: skip


def test_weights_add_up_to_100_and_codes_are_unique() -> None:
    assert sum(component.weight for component in COMPONENTS) == 100
    assert all(component.weight > 0 for component in COMPONENTS)
    assert len(COMPONENT_TITLES) == len(set(COMPONENT_TITLES.values())) == len(COMPONENTS) == 28


def test_every_code_ever_used_has_a_title() -> None:
    assert set(ALL_TITLES) >= FIRST_CODES
    assert not {component.code for component in EARLIER_COMPONENTS} & set(COMPONENT_TITLES)


@pytest.mark.parametrize("component", COMPONENTS, ids=lambda component: component.code)
def test_component_says_where_to_look_in_the_words_of_the_house(component: object) -> None:
    said = f"{component}".lower()
    assert not [word for word in ("bonnet", "boot", "windscreen", "tire", "gearbox") if word in said.split()]
    assert 10 <= len(getattr(component, "hint", "")) <= 140


@pytest.mark.parametrize(
    ("component", "basis", "number", "told"),
    [
        ("engine", Basis.SEEN, "", EMBLEM_TOLD),
        ("engine", Basis.SEEN, "  ", EMBLEM_TOLD),
        ("engine", Basis.SEEN, "3A-77120", ""),
        ("engine", Basis.MEASURED, "", ""),
        ("heads", Basis.SEEN, "", ""),
    ],
)
def test_emblem_is_told_only_of_an_engine_seen_without_a_number(
    component: str, basis: str, number: str, told: str
) -> None:
    assert advice(component, basis=basis, number=number) == told
