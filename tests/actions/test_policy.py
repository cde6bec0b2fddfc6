"""The owner changes the weights: a new version each time, with a reason, and never over somebody else's."""

from copy import deepcopy
from datetime import datetime, timedelta
from typing import Any

import pytest

from inventory.actions import inspecting
from inventory.actions.policy import set_policy
from inventory.errors import NotAllowed, Refused, TooLate
from inventory.models import LogEntry, ScorePolicy
from inventory.queries.policy import in_force
from inventory.rules.roles import Actor
from inventory.rules.scores import FIRST_POLICY
from inventory.rules.states import State
from inventory.rules.wording import log_sentence
from tests import build

pytestmark = pytest.mark.django_db


def weights(**hood: Any) -> dict[str, Any]:
    own = deepcopy(FIRST_POLICY)
    own["checks"]["front.hood"] = hood.get("hood", 9)
    return own


def test_new_weights_are_a_version_with_who_when_and_why(owner: Actor, at: datetime) -> None:
    row = set_policy(weights(), reason=" hoods cost us two sales ", version=0, by=owner, at=at)
    assert (row.number, row.reason, row.by, row.at) == (1, "hoods cost us two sales", "Sam Owner", at)
    assert in_force().weights == weights()
    entry = LogEntry.objects.get(action="policy.changed")
    assert entry.data["changes"] == ["Hood: gaps, elevation, hinges, latch, safety catch: 4 to 9"]
    said = log_sentence(entry.action, data=entry.data)
    assert said == "changed the scoring policy to version 1; reason: hoods cost us two sales"


def test_weights_count_for_inspections_begun_afterwards_alone(owner: Actor, at: datetime) -> None:
    early, late = (build.consignment(State.ON_LOT, at=at) for _ in range(2))
    walk = inspecting.begin_inspection(early.pk, by=owner, at=at)
    set_policy(weights(), reason="hoods", version=1, by=owner, at=at)
    after = inspecting.begin_inspection(late.pk, by=owner, at=at)
    walk.refresh_from_db()
    assert (walk.policy.number, after.policy.number) == (1, 2)
    assert after.policy.weights["checks"]["front.hood"] == 9


def test_version_that_somebody_else_replaced_is_refused_by_name(owner: Actor, at: datetime) -> None:
    set_policy(weights(), reason="hoods", version=0, by=owner, at=at)
    with pytest.raises(TooLate, match=r"Sam Owner put version 1 in force .*yours was 0") as refusal:
        set_policy(weights(hood=7), reason="hoods", version=0, by=owner, at=at + timedelta(minutes=1))
    assert (refusal.value.field, refusal.value.got) == ("version", 1)
    with pytest.raises(TooLate, match=r"at version 1, yours was 2|put version 1"):
        set_policy(weights(hood=7), reason="hoods", version=2, by=owner, at=at)
    assert ScorePolicy.objects.count() == 1


def test_version_before_there_is_any_is_refused_too(owner: Actor, at: datetime) -> None:
    with pytest.raises(TooLate, match="it is at version 0, yours was 3"):
        set_policy(weights(), reason="hoods", version=3, by=owner, at=at)


@pytest.mark.parametrize(
    ("given", "reason", "field", "code"),
    [
        (weights(), "  ", "reason", "no_reason"),
        (weights(hood=4), "hoods", "weights", "nothing_changed"),
        (weights(hood=21), "hoods", "checks.front.hood", "out_of_range"),
        (weights(), "x" * 501, "reason", "invalid"),
    ],
)
def test_weights_that_will_not_do_write_nothing(
    owner: Actor, at: datetime, given: dict[str, Any], reason: str, field: str, code: str
) -> None:
    with pytest.raises(Refused) as refusal:
        set_policy(given, reason=reason, version=0, by=owner, at=at)
    assert (refusal.value.field, refusal.value.code) == (field, code)
    assert not ScorePolicy.objects.exists()
    assert not LogEntry.objects.filter(action="policy.changed").exists()


def test_only_the_owner_sets_the_weights(intake: Actor, sales: Actor, at: datetime) -> None:
    for actor in (intake, sales):
        with pytest.raises(NotAllowed):
            set_policy(weights(), reason="hoods", version=0, by=actor, at=at)
    assert not ScorePolicy.objects.exists()


def test_version_that_follows_the_catalogue_says_so(intake: Actor, at: datetime) -> None:
    ScorePolicy.objects.create(number=1, weights={**FIRST_POLICY, "checks": {}}, by="owner", at=at)
    assert inspecting.current_policy(by=intake, at=at).reason == inspecting.RENEWED
