"""The search of past sales looks through one column first, and finds what the four would."""

from datetime import date, datetime

import pytest
from django.db.models import Q

from inventory.models import SaleOutcome

pytestmark = pytest.mark.django_db

CARS = (
    ("Merrow", "Alder", "H-00100", "1G4AH59H45G118341", 1968), ("MERROW", "Tarn 1968", "h00101", "", 1970),
    ("Citroën", "Été", "50%", "8a17j104221", 1968), ("Larch_", "Merrowby", "", "MERROW", 1955),
)  # fmt: skip


@pytest.fixture
def sales(at: datetime) -> None:
    SaleOutcome.objects.bulk_create(
        SaleOutcome(
            result="withdrawn", ended_on=date(2024, 1, 1), make=make, model=model, stock_number=number, vin=vin,
            year=year, by="x", at=at,
        )
        for make, model, number, vin, year in CARS
    )  # fmt: skip


@pytest.mark.parametrize(
    ("word", "count"),
    [("merrow", 3), ("h0", 1), ("001", 2), ("118341", 1), ("G118341", 1), ("1G4AH", 0), ("104221", 1),
     ("J104221", 1), ("1968", 3), ("50%", 1), ("%", 1), ("_", 1), ("Citroën", 1), ("été", None), ("a\nb", 0)],
)  # fmt: skip
def test_a_word_finds_what_the_four_columns_and_the_year_say(sales: None, word: str, count: int | None) -> None:
    """`été` depends on the database: SQLite folds the case of ASCII alone."""
    said = Q(make__icontains=word) | Q(model__icontains=word) | Q(stock_number__icontains=word)
    said |= Q(vin__iendswith=word) | Q(year=int(word) if word.isdigit() and len(word) == 4 else None)
    found = set(SaleOutcome.objects.naming(word))
    assert found == set(SaleOutcome.objects.filter(said))
    assert count is None or len(found) == count
