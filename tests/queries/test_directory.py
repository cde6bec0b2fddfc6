"""Who may be the same person: asked of a page's rows, the answer is that of the whole directory."""

import random
from datetime import datetime

import pytest

from inventory.models import Consignor
from inventory.queries.directory import consignor_choices, doubles_of

pytestmark = pytest.mark.django_db


def people(at: datetime, *, count: int) -> list[int]:
    """Few names, addresses and numbers, written in many ways, so that many share one."""
    pick = random.Random(3).choice
    rows = [
        Consignor(
            name=pick(["Ada Fenwick", "ADA FENWICK", "Bo Larkin", f"Person {number}", f"Guest {number}"]),
            email=pick(["", "ada@example.org", "Ada@Example.org", f"p{number}@example.org"]),
            phone=pick(["", "555 014 2233", "+1 (555) 014-2233", "014", f"555 99{number:05}"]), created_at=at,
        )
        for number in range(count)
    ]  # fmt: skip
    return [row.pk for row in Consignor.objects.bulk_create(rows)]


def test_doubles_of_some_rows_are_those_of_the_whole(at: datetime) -> None:
    ids = people(at, count=40)
    whole = doubles_of("consignors")
    assert 10 < len(whole) < 40
    for some in (ids[:7], ids[7:8], ids[20:], ids):
        assert doubles_of("consignors", of=some) == {pk: whole[pk] for pk in some if pk in whole}


def test_consignors_are_offered_while_they_are_few_and_then_by_a_word(at: datetime) -> None:
    people(at, count=20)
    assert len(consignor_choices(text="", chosen="")) == 20
    late = Consignor.objects.create(name="Zoe Quarles", phone="556 100 2000", created_at=at)
    offered = [(late.pk, "Zoe Quarles (556 100 2000)")]
    assert consignor_choices(text="", chosen="") == []
    assert consignor_choices(text="quar", chosen="") == consignor_choices(text="100-2000", chosen="") == offered
    assert consignor_choices(text="nobody\0", chosen=str(late.pk)) == offered
    assert len(consignor_choices(text="a", chosen=str(late.pk), most=5)) == 6
    for odd in ("x", "٣", "9" * 30, "-1"):
        assert consignor_choices(text="", chosen=odd) == []


def test_the_lot_and_whoever_was_merged_or_erased_are_not_offered(at: datetime) -> None:
    kept = Consignor.objects.create(name="Ada Fenwick", created_at=at)
    Consignor.objects.create(name="The lot itself", is_lot=True, created_at=at)
    Consignor.objects.create(name="Ada F.", merged_into=kept, created_at=at)
    gone = Consignor.objects.create(name="erased", erased_at=at, created_at=at)
    assert consignor_choices(text="", chosen=str(gone.pk)) == [(kept.pk, "Ada Fenwick")]
