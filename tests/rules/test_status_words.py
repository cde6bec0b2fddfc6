"""What a consignor is told: every state and every answer has its words."""

import pytest

from inventory.rules.states import State
from inventory.rules.status_words import NEXT, STATE_TOLD, TITLE, days_told, effect_told, interest_told
from inventory.rules.words import ConsentKind, ConsentResult


def test_every_state_and_every_kind_of_question_is_told() -> None:
    assert set(STATE_TOLD) == set(NEXT) == set(State)
    assert set(TITLE) == set(ConsentKind)


def test_only_what_was_agreed_changed_something() -> None:
    for kind in ConsentKind:
        assert effect_told(kind, result=ConsentResult.AGREED).startswith("With that")
        assert effect_told(kind, result=ConsentResult.DECLINED) == "Nothing has changed."
        assert "no longer asks" in effect_told(kind, result=ConsentResult.TAKEN_BACK)


@pytest.mark.parametrize(("days", "told"), [(-1, "past"), (0, "today"), (1, "in 1 day"), (9, "in 9 days")])
def test_days_ahead(days: int, told: str) -> None:
    assert days_told(days) == told


def test_interest_is_told_in_counts_without_names() -> None:
    assert interest_told(inquiries=0, showings=0, drives=0) == ""
    told = interest_told(inquiries=1, showings=2, drives=1)
    assert told == "1 inquiry and 2 showings since it was listed, 1 with a test drive."
