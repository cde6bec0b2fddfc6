"""Chances in words."""

import pytest

from inventory.rules.chances import chance_said


@pytest.mark.parametrize(
    ("chance", "said"),
    [(0.0, "0 %"), (0.004, "under 1 %"), (0.614, "61 %"), (0.99, "99 %"), (0.996, "over 99 %"), (1.0, "100 %")],
)
def test_chance_is_neither_none_nor_certain_where_it_is_not(chance: float, said: str) -> None:
    assert chance_said(chance) == said
