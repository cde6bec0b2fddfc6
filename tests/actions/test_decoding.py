"""The decoder table: added to, corrected by a new entry, retired, and asked."""

import uuid
from dataclasses import replace
from datetime import date, datetime
from typing import Any

import pytest

from inventory.actions import decoding
from inventory.actions.decoding import Meaning
from inventory.errors import NotAllowed, NotFound, Refused, TooLate
from inventory.models import DecoderEntry, LogEntry
from inventory.queries import decoder
from inventory.rules.roles import Actor
from inventory.rules.wording import log_sentence

pytestmark = pytest.mark.django_db
SAID = Meaning(
    component="engine", make="Merrow", from_year=1960, to_year=1979, written="6B-10", meaning="10 February",
    earliest_on=date(1966, 2, 10), latest_on=date(1966, 2, 10), source="pocket book, page 14",
)  # fmt: skip


def found(code: str, *, component: str = "engine", make: str = "merrow", year: int = 1967) -> list[str]:
    return [shown.row.meaning for shown in decoder.meanings(code, component=component, make=make, year=year).entries]


def test_entry_is_found_by_component_make_year_and_code(intake: Actor, at: datetime) -> None:
    decoding.add_meaning(SAID, by=intake, at=at)
    assert found("6b 10") == ["10 February"]
    assert found("6B1") == found("6B101") == found("6B10", component="heads") == found("6B10", make="Tarn") == []
    assert found("6B10", year=1959) == found("6B10", year=1980) == []
    assert found("6B10", year=1960) == found("6B10", year=1979) == ["10 February"]
    entry = LogEntry.objects.latest("pk")
    said = "added to the decoder table: Merrow engine block and number 6B-10 means 10 February"
    assert log_sentence(entry.action, data=entry.data) == said


def test_beginning_of_a_code_is_found_where_the_entry_says_so(intake: Actor, at: datetime) -> None:
    decoding.add_meaning(replace(SAID, match="prefix", written="6B"), by=intake, at=at)
    assert found("6B10") == found("6B") == ["10 February"]
    assert found("6") == found("16B") == []


def test_all_meanings_come_back_none_chosen_and_the_decade_is_told(intake: Actor, at: datetime) -> None:
    decoding.add_meaning(replace(SAID, earliest_on=date(1976, 2, 10), latest_on=date(1976, 2, 10)), by=intake, at=at)
    decoding.add_meaning(SAID, by=intake, at=at)
    meant = decoder.meanings("6B10", component="engine", make="Merrow", year=1967)
    assert [shown.dated for shown in meant.entries] == ["1966-02-10", "1976-02-10"]
    assert "1966 or 1976" in meant.warning


def test_correction_is_a_new_entry_in_the_place_of_the_old(intake: Actor, owner: Actor, at: datetime) -> None:
    first = decoding.add_meaning(SAID, by=intake, at=at)
    second = decoding.correct_meaning(first.pk, said=replace(SAID, meaning="10 March"), by=owner, at=at)
    assert found("6B10") == ["10 March"]
    assert second.corrects == first
    assert DecoderEntry.objects.count() == 2
    with pytest.raises(TooLate, match="Sam Owner corrected or retired this entry"):
        decoding.correct_meaning(first.pk, said=SAID, by=intake, at=at)


def test_retired_entry_is_out_of_use_and_stays_to_be_read(intake: Actor, at: datetime) -> None:
    first = decoding.add_meaning(SAID, by=intake, at=at)
    last = decoding.retire_meaning(first.pk, by=intake, at=at)
    assert found("6B10") == []
    assert DecoderEntry.objects.count() == 2
    for entry in (first, last):
        with pytest.raises(TooLate):
            decoding.retire_meaning(entry.pk, by=intake, at=at)


def test_entry_sent_twice_is_one(intake: Actor, at: datetime) -> None:
    said = replace(SAID, client_key=uuid.UUID(int=5))
    first = decoding.add_meaning(said, by=intake, at=at)
    assert decoding.add_meaning(said, by=intake, at=at).pk == first.pk
    corrected = replace(SAID, meaning="10 March", client_key=uuid.UUID(int=6))
    rows = [decoding.correct_meaning(first.pk, said=corrected, by=intake, at=at) for _ in range(2)]
    assert rows[0].pk == rows[1].pk


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"component": "wings"}, "component"), ({"written": " - "}, "written"), ({"to_year": 1950}, "to_year"),
        ({"from_year": 1800}, ""), ({"make": " "}, "make"), ({"meaning": ""}, "meaning"), ({"source": ""}, "source"),
        ({"latest_on": None}, "earliest_on"), ({"match": "like"}, "match"),
    ],
)  # fmt: skip
def test_entry_that_makes_no_sense_is_refused_on_its_field(
    intake: Actor, at: datetime, changes: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refused) as refusal:
        decoding.add_meaning(replace(SAID, **changes), by=intake, at=at)
    assert refusal.value.field == field
    assert not DecoderEntry.objects.exists()


def test_who_keeps_the_table(sales: Actor, intake: Actor, at: datetime) -> None:
    entry = decoding.add_meaning(SAID, by=intake, at=at)
    for deed in (
        lambda: decoding.add_meaning(SAID, by=sales, at=at),
        lambda: decoding.correct_meaning(entry.pk, said=SAID, by=sales, at=at),
        lambda: decoding.retire_meaning(entry.pk, by=sales, at=at),
    ):
        with pytest.raises(NotAllowed):
            deed()
    with pytest.raises(NotFound):
        decoding.retire_meaning(entry.pk + 99, by=intake, at=at)
