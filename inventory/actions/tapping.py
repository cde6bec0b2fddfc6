"""Taps that a device kept while it had no signal: each is taken once, by itself, whatever becomes of the others."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from django.db import transaction
from django.utils import timezone

from inventory.actions import inspecting, logbook
from inventory.actions.inspecting import Finding
from inventory.actions.writing import add, again, locked
from inventory.errors import NotAllowed, Refused
from inventory.models import CheckResult, IntakeInspection, LateTap
from inventory.queries.flags import flag_of_result
from inventory.queries.inspections import latest_result, wording_of
from inventory.rules import device_time
from inventory.rules.device_time import Said
from inventory.rules.roles import Act, Actor, require


class Fate(StrEnum):
    """What became of one tap."""

    COUNTS = "counts"
    OUTDONE = "outdone"  # somebody said otherwise later: both are kept, the later one counts
    KEPT = "kept"  # its inspection was finished before it came: in the log only
    REFUSED = "refused"


@dataclass(frozen=True, kw_only=True)
class Tap:
    """One thing said on a device, with the device's own time of it."""

    key: uuid.UUID
    inspection: int
    made_at: datetime
    finding: Finding | None = None
    visit: dict[str, str] | None = None  # station, engine


@dataclass(frozen=True)
class Taken:
    key: uuid.UUID
    fate: Fate
    told: str = ""  # a sentence for whoever tapped; "" where there is nothing to tell
    flag: str = ""  # the safety flag that it raises


def take_taps(
    consignment_id: int, *, taps: Sequence[Tap], device: str, sent_at: datetime, by: Actor, at: datetime
) -> list[Taken]:
    """Take taps in the order in which they were made. `sent_at` is the device's clock now: it tells how wrong it is."""
    require(by, Act.INSPECT)
    taken = []
    for tap in taps:
        said = device_time.said(tap.made_at, sent_at=sent_at, at=at)
        try:
            taken.append(_take(consignment_id, tap=tap, device=device, said=said, by=by, at=at))
        except NotAllowed:
            raise
        except Refused as problem:
            taken.append(Taken(tap.key, Fate.REFUSED, str(problem)))
    return taken


@transaction.atomic
def _take(consignment_id: int, *, tap: Tap, device: str, said: Said, by: Actor, at: datetime) -> Taken:
    stay = locked(consignment_id)
    if again(LateTap, client_key=tap.key) is not None:
        return Taken(tap.key, Fate.KEPT, _LATE)
    walked = IntakeInspection.objects.filter(consignment=stay, number=tap.inspection).first()
    if walked is None:
        raise Refused(
            "no_such_inspection", f"{stay.stock_number} has no inspection {tap.inspection}.", field="inspection",
            got=tap.inspection, mend="Open the inspection and tap again.",
        )  # fmt: skip
    if not walked.is_open:
        known = again(CheckResult, client_key=tap.key)
        return _weighed(known, tap=tap) if known else _keep_late(walked, tap=tap, told_at=said.told_at, by=by, at=at)
    if tap.visit is not None:
        inspecting.record_visit(consignment_id, **tap.visit, client_key=tap.key, by=by, at=at)
        return Taken(tap.key, Fate.COUNTS)
    if tap.finding is None:
        raise Refused("empty_tap", "The tap says nothing.", field="taps", got=str(tap.key), mend="Tap again.")
    told_at = device_time.in_order(said, others=_said_before(walked, code=tap.finding.check_code, device=device))
    on_device = {"client_key": tap.key, "told_at": told_at, "made_at": said.made_at, "device": device}
    finding = Finding(**{**tap.finding.__dict__, **on_device})
    return _weighed(inspecting.record_check(consignment_id, finding=finding, by=by, at=at), tap=tap)


def _said_before(walked: IntakeInspection, *, code: str, device: str) -> list[Said]:
    """What the same device said of the same check."""
    rows = CheckResult.objects.filter(inspection=walked, check_code=code, device=device)
    return [Said(row.made_at, row.told_at) for row in rows if row.made_at and row.told_at]


_LATE = "The inspection was finished before this came: it is kept in the log, and counts nowhere."


def _weighed(row: CheckResult, *, tap: Tap) -> Taken:
    """Whether this result is the one that counts of its check."""
    counting = latest_result(row.inspection, code=row.check_code)
    if counting.pk == row.pk or counting.by == row.by:
        flag = flag_of_result(counting)
        return Taken(tap.key, Fate.COUNTS, flag=flag.message if flag else "")
    grade = counting.get_grade_display() if counting.grade is not None else counting.get_verdict_display()
    when = timezone.localtime(counting.told_at or counting.at).strftime("%H:%M")
    return Taken(tap.key, Fate.OUTDONE, f"{counting.by} said “{grade}” later, at {when}: that counts. Both are kept.")


def _keep_late(walked: IntakeInspection, *, tap: Tap, told_at: datetime, by: Actor, at: datetime) -> Taken:
    said = _said(tap)
    row = add(LateTap(inspection=walked, said=said, told_at=told_at, client_key=tap.key, by=by.name, at=at))
    logbook.record(
        "inspection.late", row, by=by, at=at, consignment=walked.consignment, number=walked.number, said=said["words"]
    )
    return Taken(tap.key, Fate.KEPT, _LATE)


def _said(tap: Tap) -> dict[str, Any]:
    """A tap word for word, as plain JSON, with a line for people."""
    if tap.finding is None:
        return {"words": "a visit", **(tap.visit or {})}
    given = tap.finding
    answer = given.verdict if given.grade is None else str(given.grade)
    reading = "" if given.reading is None else f", reading {given.reading:f}"
    note = f", “{given.note}”" if given.note else ""
    return {
        "words": f"{wording_of(given.check_code)}: {answer}{reading}{note}", "check_code": given.check_code,
        "answer": answer, "basis": given.basis, "reading": None if given.reading is None else str(given.reading),
        "note": given.note,
    }  # fmt: skip
