"""What is still missing about an incident, and which step may follow which."""

from collections.abc import Sequence

from inventory.errors import Refused
from inventory.rules.floor_words import IncidentKind, IncidentStepKind

CAUTION = (
    "Somebody is hurt, or something was stolen: emergency services and police first. What has to be told to whom, "
    "and how soon, is for the insurer's terms and local law to say."
)
_TURNING = (IncidentStepKind.CLOSED, IncidentStepKind.OPENED_AGAIN)
_WANTED = {
    IncidentStepKind.INSURER_TOLD: "the insurer is not told",
    IncidentStepKind.CONSIGNOR_TOLD: "the consignor is not told",
    IncidentStepKind.POLICE_TOLD: "the police are not told",
}
_POLICE = (IncidentKind.THEFT,)
_SAY_SO = (*_TURNING, IncidentStepKind.NOTE)


def is_open(steps: Sequence[str]) -> bool:
    """Open until a step closes it, and again once it is opened again. Steps in the order they were made."""
    turns = [step for step in steps if step in _TURNING]
    return not turns or turns[-1] == IncidentStepKind.OPENED_AGAIN


def missing(kind: str, *, steps: Sequence[str]) -> list[str]:
    """Who has not been told yet; the police are asked for where something was stolen."""
    wanted = [step for step in _WANTED if step != IncidentStepKind.POLICE_TOLD or kind in _POLICE]
    return [_WANTED[step] for step in wanted if step not in steps]


def check_step(kind: str, *, text: str, before: Sequence[str]) -> None:
    """A note and a turn say why; what is closed is not closed again, what is open not opened."""
    if kind in _SAY_SO and not text:
        raise Refused("empty", "A step of this kind says something.", field="text", mend="Write why, or what happened.")
    if kind == IncidentStepKind.CLOSED and not is_open(before):
        raise Refused("closed_already", "This incident is closed already.", field="kind", got=kind, mend="Add a note.")
    if kind == IncidentStepKind.OPENED_AGAIN and is_open(before):
        raise Refused("open_already", "This incident is open.", field="kind", got=kind, mend="Add a note.")


def steps_open(before: Sequence[str], *, may_close: bool) -> list[IncidentStepKind]:
    """The steps that can be made now, in the order of their table."""
    shut = {IncidentStepKind.OPENED_AGAIN} if is_open(before) else {IncidentStepKind.CLOSED}
    if not may_close:
        shut.add(IncidentStepKind.CLOSED)
    return [step for step in IncidentStepKind if step not in shut]
