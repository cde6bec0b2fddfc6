"""Modifications with all that is said of them, and what they change in the ledger."""

from datetime import datetime
from decimal import Decimal
from typing import Any

import pytest

from inventory.actions import recording
from inventory.errors import Refused
from inventory.models import Consignment, Modification, ModificationComponent
from inventory.queries.ledger import ledger_of
from inventory.rules.roles import Actor
from inventory.rules.scores import FIRST_POLICY, Interval
from tests import build

pytestmark = pytest.mark.django_db
WHAT: dict[str, Any] = {"kind": "engine", "what": "larger valves", "fitting": "cut_or_welded", "basis": "seen"}


@pytest.fixture
def stay(at: datetime) -> Consignment:
    return build.consignment(at=at)


def test_everything_said_of_a_modification_is_kept(stay: Consignment, intake: Actor, at: datetime) -> None:
    row = recording.add_modification(
        stay.pk, **WHAT, where=" both heads ", material=" bronze ", era="period", cost_told=Decimal("1850.00"),
        components=["heads", "engine", "heads"], by=intake, at=at,
    )  # fmt: skip
    row.refresh_from_db()
    assert (row.where, row.material, row.era, row.cost_told) == ("both heads", "bronze", "period", Decimal("1850.00"))
    assert [change.component for change in row.changes.order_by("pk")] == ["heads", "engine"]
    (seen,) = ledger_of(stay.vehicle_id).modifications
    assert seen.titles == "Cylinder heads, Engine block and number"


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"components": ["heads", "wings"]}, "components"), ({"era": "soon"}, "era"),
        ({"cost_told": Decimal("-1.00")}, ""), ({"cost_told": Decimal("1.005")}, "cost_told"),
        ({"material": "x" * 81}, "material"),
    ],
)  # fmt: skip
def test_modification_that_makes_no_sense_writes_nothing(
    stay: Consignment, intake: Actor, at: datetime, more: dict[str, Any], field: str
) -> None:
    with pytest.raises(Refused) as refusal:
        recording.add_modification(stay.pk, **WHAT, **more, by=intake, at=at)
    assert refusal.value.field == field
    assert not Modification.objects.exists()
    assert not ModificationComponent.objects.exists()


def test_modification_lowers_the_originality_of_what_it_changed(stay: Consignment, intake: Actor, at: datetime) -> None:
    """Frame (7 of 100) original, heads (4) cut: 7 to 96."""
    build.write_line(stay, at=at, component="frame")
    assert ledger_of(stay.vehicle_id).originality(policy=FIRST_POLICY) == Interval(Decimal("7.0"), Decimal("100.0"))
    recording.add_modification(stay.pk, **WHAT, components=["heads"], by=intake, at=at)
    assert ledger_of(stay.vehicle_id).originality(policy=FIRST_POLICY) == Interval(Decimal("7.0"), Decimal("96.0"))


def test_original_component_that_was_changed_contradicts_itself(stay: Consignment, intake: Actor, at: datetime) -> None:
    build.write_line(stay, at=at, component="heads")
    recording.add_modification(stay.pk, **WHAT, components=["heads"], by=intake, at=at)
    (told,) = ledger_of(stay.vehicle_id).disagreements.contradictions
    assert told == "Cylinder heads: recorded as original, yet a modification changed it (“larger valves”)."
