"""A commission is split among staff and lot to the cent."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.errors import Refused
from inventory.rules.shares import check_percent, split

CENTS = st.integers(-10_000_000, 10_000_000).map(lambda cents: Decimal(cents).scaleb(-2))
PERCENTS = st.lists(st.integers(0, 3333).map(lambda points: Decimal(points).scaleb(-2)), max_size=3)


@given(CENTS, PERCENTS)
def test_shares_and_what_is_left_are_the_commission(commission: Decimal, percents: list[Decimal]) -> None:
    found = split(commission, percents=percents)
    assert sum(found.parts) + found.left == commission
    for part, percent in zip(found.parts, percents, strict=True):
        assert abs(part - commission * percent / 100) < Decimal("0.01")
    back = split(-commission, percents=percents)
    assert [-part for part in back.parts] == list(found.parts)


def test_split_as_worked_by_hand() -> None:
    """4,365.01 at 10 % and 12.5 %: 436.501 and 545.62625; the odd cents go to the largest remainders."""
    found = split(Decimal("4365.01"), percents=[Decimal(10), Decimal("12.5")])
    assert (*found.parts, found.left) == (Decimal("436.50"), Decimal("545.63"), Decimal("3382.88"))


@pytest.mark.parametrize(
    ("percent", "of_others", "code"),
    [("60.01", "40", "shares_above_whole"), ("-1", "0", "share_percent"), ("0.005", "0", "share_too_fine")],
)
def test_share_beyond_the_whole_is_refused(percent: str, of_others: str, code: str) -> None:
    with pytest.raises(Refused) as refusal:
        check_percent(Decimal(percent), of_others=Decimal(of_others))
    assert (refusal.value.code, refusal.value.field) == (code, "percent")
    assert check_percent(Decimal(60), of_others=Decimal(40)) == 60
