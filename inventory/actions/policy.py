"""The owner puts other weights of condition and originality in force."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils import timezone

from inventory.actions import logbook
from inventory.actions.writing import add, locked_lot
from inventory.errors import Refused, TooLate
from inventory.models import ScorePolicy
from inventory.queries.policy import InForce, in_force
from inventory.rules.policy import changes, checked
from inventory.rules.roles import Act, Actor, require


@transaction.atomic
def set_policy(weights: Mapping[str, Any], *, reason: str, version: int, by: Actor, at: datetime) -> ScorePolicy:
    """Make a new version of the weights; `version` is the one it was decided on. Finished inspections keep theirs."""
    require(by, Act.SET_POLICY)
    locked_lot()  # two owners at once: the second sees what the first did
    known = in_force()
    _refuse_stale(known, version=version)
    fresh = checked(weights)
    if not reason.strip():
        raise Refused("no_reason", "No reason was given.", field="reason", got="", mend="Say why they are changed.")
    changed = changes(known.weights, fresh)
    if not changed:
        raise Refused(
            "nothing_changed", "These are the weights in force.", field="weights", mend="Change one of them, or leave."
        )
    row = add(
        ScorePolicy(number=known.number + 1, weights=fresh, reason=reason.strip(), by=by.name, at=at)
    )  # fmt: skip
    logbook.record(
        "policy.changed", row, by=by, at=at, number=row.number, because=logbook.because(row.reason),
        changes=[f"{one.title}: {one.before} to {one.after}" for one in changed],
    )  # fmt: skip
    return row


def _refuse_stale(known: InForce, *, version: int) -> None:
    if version == known.number:
        return
    said = f"it is at version {known.number}, yours was {version}"
    if known.row is not None:
        since = timezone.localtime(known.row.at).strftime("%Y-%m-%d %H:%M")
        said = f"{known.row.by} put version {known.number} in force ({since}), yours was {version}"
    raise TooLate(
        "stale_version", f"The weights have changed since you looked: {said}.", field="version", got=known.number,
        mend="Look at the weights in force, then change again what still applies.",
    )  # fmt: skip
