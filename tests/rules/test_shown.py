"""What a place that shows a vehicle must correct, by state, ask and what it was told since."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from inventory.rules.shown import Facts, Wrong, can_be_set_right, told, warning, wrong_with
from inventory.rules.states import State

THEN = datetime(2026, 3, 1, 12, 0, tzinfo=UTC)
LATER = THEN + timedelta(days=2)
ASK, OLD = Decimal("48500.00"), Decimal("52000.00")


def facts(state: State = State.LISTED, **changes: Any) -> Facts:
    given: dict[str, Any] = {"state_at": THEN, "ask": ASK, "shown": ASK, "told_at": LATER, **changes}
    return Facts(state=state, **given)


@pytest.mark.parametrize(
    ("known", "wrong"),
    [
        (facts(), None),
        (facts(shown=OLD), Wrong.ASK),
        (facts(ask=None), Wrong.ASK),
        (facts(shown=None), None),  # it shows no ask
        (facts(State.INSPECTED, shown=None, ask=None), None),
        (facts(State.DEPOSIT, state_at=LATER, told_at=THEN), Wrong.HELD),
        (facts(State.DEPOSIT), None),
        (facts(State.SOLD, state_at=LATER, told_at=THEN), Wrong.SOLD),
        (facts(State.SETTLED, state_at=LATER + timedelta(days=9), sold_at=THEN), None),  # marked as sold in between
        (facts(State.WITHDRAWN), Wrong.WITHDRAWN),
        (facts(State.RELEASED), Wrong.WITHDRAWN),
        (facts(state_at=LATER, told_at=THEN, dealt_at=THEN - timedelta(days=1)), Wrong.FREE_AGAIN),
        (facts(state_at=LATER, told_at=THEN, dealt_at=THEN + timedelta(days=1)), None),  # never marked as held
    ],
)
def test_wrong_with_state_and_ask_says_what(known: Facts, wrong: Wrong | None) -> None:
    assert wrong_with(known) is wrong


def test_told_names_both_asks_and_withdrawn_can_only_be_taken_down() -> None:
    assert told(Wrong.ASK, shown=OLD, ask=ASK) == "It shows $52,000.00; the ask is $48,500.00."
    assert "no ask is set" in told(Wrong.ASK, shown=OLD, ask=None)
    assert [wrong for wrong in Wrong if not can_be_set_right(wrong)] == [Wrong.WITHDRAWN]


def test_warning_counts_the_places_and_names_them() -> None:
    said = warning([Wrong.ASK, Wrong.ASK], places=["Window", "Post"])
    assert said == "Shown at 2 places with the old ask: Window, Post. Set them right or take it down."
    assert warning([Wrong.SOLD], places=["Post"]).startswith("Shown at 1 place as it was before: Post. Set it right")
