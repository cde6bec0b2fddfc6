"""How a vehicle stands, as every screen hands it on."""

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest

from inventory.bridge import Standing
from inventory.models import Consignment
from inventory.queries.prospects import standing_of
from inventory.queries.stays import OpinionSeen

BAND = OpinionSeen(Decimal(18_000), Decimal(20_000), Decimal(23_000), 80, datetime(2030, 5, 1, tzinfo=UTC))


def standing(*, listed_on: date | None, **told: Any) -> Standing:
    return standing_of(
        Consignment(listed_on=listed_on), row={}, opinion=BAND, exposed_days=35, asks=[(0, Decimal(21_000))],
        best_offer=None, followed=False, on=date(2030, 7, 1), **told,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("listed_on", "told", "kept"),
    [(date(2030, 5, 27), {"interest": 7}, 7), (date(2030, 5, 27), {}, None), (None, {"interest": 7}, None)],
    ids=["counted", "not counted", "not listed"],
)
def test_inquiries_are_handed_on_once_it_is_listed(
    listed_on: date | None, told: dict[str, int], kept: int | None
) -> None:
    assert standing(listed_on=listed_on, **told).interest == kept
