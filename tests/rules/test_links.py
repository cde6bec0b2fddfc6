"""How long a private link opens: the agreement and 60 days, or all settled and 60 days."""

from datetime import date, timedelta
from typing import Any

import pytest

from inventory.rules.links import opens_for

MADE = date(2026, 3, 16)


def day(count: int) -> date:
    return MADE + timedelta(days=count)


@pytest.mark.parametrize(
    ("known", "days"),
    [
        ({}, 60),
        ({"agreement_ends_on": day(120)}, 180),
        ({"agreement_ends_on": day(-30)}, 60),  # made after the agreement had ended
        ({"agreement_ends_on": day(300)}, 360),  # renewed
        ({"agreement_ends_on": day(120), "is_owed": True, "today": day(200)}, 260),  # sold, the money still open
        ({"agreement_ends_on": day(120), "is_owed": True, "today": day(20)}, 180),
        ({"is_owed": True, "today": day(20)}, 80),
        ({"agreement_ends_on": day(120), "closed_on": day(20)}, 80),  # over early: no longer than it has to
        ({"agreement_ends_on": day(120), "closed_on": day(200)}, 260),
        ({"closed_on": day(-100)}, 60),  # asked for long after all was over
    ],
)
def test_link_opens_so_many_days(known: dict[str, Any], days: int) -> None:
    given: dict[str, Any] = {"agreement_ends_on": None, "closed_on": None, "is_owed": False, "today": MADE, **known}
    assert opens_for(made_on=MADE, **given) == timedelta(days=days)
