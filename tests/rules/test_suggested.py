"""An ask beside the suggested one."""

from datetime import date
from decimal import Decimal

import pytest

from inventory.rules.suggested import departs, stored


@pytest.mark.parametrize(
    ("amount", "answer"),
    [("47000.00", False), ("47470.00", False), ("47470.01", True), ("46530.00", False), ("46529.99", True)],
)
def test_ask_departs_beyond_one_percent_either_way(amount: str, answer: bool) -> None:
    assert departs(Decimal(amount), suggested=Decimal("47000.00")) is answer


def test_what_was_expected_is_stored_as_text_where_json_has_no_word_for_it() -> None:
    told = {"net": Decimal("40100.50"), "by": date(2026, 5, 1), "chance": 0.62, "days": (30, 60), "at": {30: None}}
    assert stored(told) == {
        "net": "40100.50", "by": "2026-05-01", "chance": 0.62, "days": [30, 60], "at": {"30": None}
    }  # fmt: skip
