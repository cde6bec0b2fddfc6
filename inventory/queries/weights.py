"""The weights of condition and originality in force."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from inventory.models import ScorePolicy
from inventory.rules import scores
from inventory.rules.roles import Act, Actor, require


@dataclass(frozen=True)
class PolicyRead:
    """The weights in force; without a number they are the house's first ones, which nobody has stored yet."""

    number: int | None
    weights: Mapping[str, Any]
    by: str
    reason: str
    at: datetime | None


def score_policy(*, by: Actor) -> PolicyRead:
    require(by, Act.SEE_LOT)
    latest = ScorePolicy.objects.order_by("-number").first()
    if latest is None:
        return PolicyRead(None, scores.FIRST_POLICY, "", "", None)
    return PolicyRead(latest.number, latest.weights, latest.by, latest.reason, latest.at)
