"""Pieces of a list: every row once, forth and back, whatever the columns lack and whoever writes meanwhile."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db.models import F, QuerySet

from inventory.errors import NotFound
from inventory.models import SaleOutcome
from inventory.queries.keyset import Piece, cut

pytestmark = pytest.mark.django_db
DAY = date(2026, 3, 1)


def sale(number: int, **changes: object) -> SaleOutcome:
    """Two sales a day, of three makes; every third tells no mileage."""
    facts = {"year": 1960 + number % 3, "make": ("Alder", "Merrow", "Tarn")[number % 3], "model": "Six"}
    return SaleOutcome(
        **{
            **facts, "result": "sold", "price": Decimal(1000), "effective_price": Decimal(1000), "by": "x",
            "ended_on": DAY + timedelta(days=number // 2), "mileage": None if number % 3 == 0 else 100 * (number // 4),
            "at": "2026-03-01T12:00Z", **changes,
        }
    )  # fmt: skip


@pytest.fixture
def sales() -> QuerySet[SaleOutcome]:
    SaleOutcome.objects.bulk_create(sale(number) for number in range(23))
    return SaleOutcome.objects.all()


def walked(rows: QuerySet[SaleOutcome], *, order: list[str], back: bool = False) -> list[int]:
    """All keys, piece after piece of four; or from the end back to the beginning."""
    pieces: list[Piece[SaleOutcome]] = [cut(rows, order=order, size=4)]
    while place := pieces[-1].after:
        pieces.append(cut(rows, order=order, size=4, place=place))
    if back:
        pieces = pieces[-1:]
        while place := pieces[0].before:
            pieces.insert(0, cut(rows, order=order, size=4, place=place))
    return [row.pk for piece in pieces for row in piece.rows]


@pytest.mark.parametrize("order", [[], ["-ended_on", "-pk"], ["make", "-year"], ["mileage"], ["-mileage", "ended_on"]])
def test_pieces_hold_every_row_once_in_the_order_of_the_database(
    sales: QuerySet[SaleOutcome], order: list[str]
) -> None:
    by = [F(name[1:]).desc(nulls_last=True) if name[0] == "-" else F(name).asc(nulls_last=True) for name in order]
    expected = list(sales.order_by(*by, "-pk").values_list("pk", flat=True))
    assert walked(sales, order=order) == expected
    assert walked(sales, order=order, back=True) == expected


def test_row_that_comes_in_meanwhile_moves_none(sales: QuerySet[SaleOutcome]) -> None:
    first = cut(sales, order=["-ended_on"], size=4)
    following = cut(sales, order=["-ended_on"], size=4, place=first.after)
    sale(99).save()
    assert cut(sales, order=["-ended_on"], size=4, place=first.after).rows == following.rows


@pytest.mark.parametrize("place", ["x", "W10", "WyJhIl0", "WyJhIiwgIm5vIGRheSIsICIxIl0", "é", "A" * 3000])
def test_place_that_no_piece_named_is_not_found(sales: QuerySet[SaleOutcome], place: str) -> None:
    with pytest.raises(NotFound, match="no such place"):
        cut(sales, order=["-ended_on"], size=4, place=place)
