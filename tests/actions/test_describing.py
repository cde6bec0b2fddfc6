"""Descriptions in versions: written from the record, edited, and published only when nothing is questioned."""

from datetime import datetime
from decimal import Decimal
from typing import Any

import pytest

from inventory.actions import describing, inspecting
from inventory.actions.inspecting import Finding
from inventory.errors import NotAllowed, Refused, TooLate
from inventory.models import Consignment, Listing, LogEntry
from inventory.rules.roles import Actor
from inventory.rules.states import State
from tests import build

pytestmark = pytest.mark.django_db


@pytest.fixture
def listed(at: datetime) -> Consignment:
    return build.consignment(State.LISTED, at=at)


def write(stay: Consignment, by: Actor, *, at: datetime, after: int = 0, **said: Any) -> Listing:
    return describing.write_listing(stay.pk, tone="telling", after=after, by=by, at=at, **said)


def lines_of(row: Listing, **changed: list[str]) -> dict[str, list[str]]:
    kept = {section["code"]: [one["text"] for one in section["sentences"]] for section in row.sections}
    return {**kept, **changed}


def test_description_is_written_published_and_each_time_a_new_version(
    listed: Consignment, sales: Actor, at: datetime
) -> None:
    first = write(listed, sales, at=at)
    assert (first.number, first.published, first.objections) == (1, False, [])
    shown = describing.publish(listed.pk, after=1, by=sales, at=at)
    assert (shown.number, shown.published, shown.sections) == (2, True, first.sections)
    said = LogEntry.objects.filter(action__startswith="listing.").order_by("pk").values_list("action", flat=True)
    assert list(said) == ["listing.written", "listing.published"]
    with pytest.raises(Refused, match="Version 2 is published already"):
        describing.publish(listed.pk, after=2, by=sales, at=at)


def test_questioned_sentence_is_kept_but_not_published(listed: Consignment, sales: Actor, at: datetime) -> None:
    build.write_line(listed, at=at, standing="original", basis="told")
    first = write(listed, sales, at=at)
    typed = lines_of(first, opening=["Born with this engine."])
    second = write(listed, sales, at=at, after=1, lines=typed)
    assert second.objections[0]["mended"] == "The owner reports: Born with this engine."
    with pytest.raises(Refused, match=r"Born with this engine.* claims more of the engine block"):
        describing.publish(listed.pk, after=2, by=sales, at=at)
    mended = lines_of(first, opening=["The owner reports: Born with this engine."])
    write(listed, sales, at=at, after=2, lines=mended)
    assert describing.publish(listed.pk, after=3, by=sales, at=at).published


def test_fault_found_after_the_writing_stops_the_publishing(listed: Consignment, owner: Actor, at: datetime) -> None:
    write(listed, owner, at=at)
    inspecting.begin_inspection(listed.pk, by=owner, at=at)
    bad = Finding(check_code="underside.floors", grade=0, basis="seen", note="rotten through")
    inspecting.record_check(listed.pk, finding=bad, by=owner, at=at)
    with pytest.raises(Refused, match="Rotten through"):
        describing.publish(listed.pk, after=1, by=owner, at=at)


def test_only_what_is_for_sale_is_published(owner: Actor, at: datetime) -> None:
    stay = build.consignment(State.INSPECTED, at=at)
    write(stay, owner, at=at)
    with pytest.raises(Refused, match="is inspected: it is not for sale"):
        describing.publish(stay.pk, after=1, by=owner, at=at)


def test_nothing_is_published_that_was_not_written(listed: Consignment, owner: Actor, at: datetime) -> None:
    with pytest.raises(Refused, match="There is no description yet"):
        describing.publish(listed.pk, after=0, by=owner, at=at)


def test_second_writer_sees_that_somebody_was_faster(listed: Consignment, sales: Actor, at: datetime) -> None:
    write(listed, sales, at=at)
    with pytest.raises(TooLate, match="Sam Sales kept version 1"):
        write(listed, sales, at=at)


def test_intake_may_neither_write_nor_publish(listed: Consignment, intake: Actor, at: datetime) -> None:
    with pytest.raises(NotAllowed):
        write(listed, intake, at=at)
    with pytest.raises(NotAllowed):
        describing.publish(listed.pk, after=0, by=intake, at=at)


@pytest.mark.parametrize(
    ("said", "code"),
    [
        ({"lines": {"boasts": ["x"]}}, "unknown_section"),
        ({"lines": {"opening": ["x" * 2001]}}, "line_too_long"),
        ({"lines": {}}, "nothing_said"),
    ],
)
def test_what_makes_no_description_is_refused(
    listed: Consignment, owner: Actor, at: datetime, said: dict[str, Any], code: str
) -> None:
    with pytest.raises(Refused) as refused:
        write(listed, owner, at=at, **said)
    assert refused.value.code == code


def test_unknown_tone_is_refused(listed: Consignment, owner: Actor, at: datetime) -> None:
    with pytest.raises(Refused, match="“loud” is no tone"):
        describing.write_listing(listed.pk, tone="loud", by=owner, at=at)


def test_description_of_a_deposit_may_still_be_published(listed: Consignment, owner: Actor, at: datetime) -> None:
    build.step_to(State.DEPOSIT, listed, at=at, price=Decimal(48500))
    write(listed, owner, at=at)
    assert describing.publish(listed.pk, after=1, by=owner, at=at).published
