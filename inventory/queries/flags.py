"""Safety flags of one stay: what answers and figures say against the published limits, and what the owner cleared."""

import hashlib
from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby

from django.db.models import Q

from inventory.errors import NotFound
from inventory.models import CheckResult, Consignment, FlagClearance
from inventory.queries.figures import figures_of
from inventory.rules.catalogue import CHECKS, EARLIER
from inventory.rules.flags import flag_of
from inventory.rules.limits import Flag
from inventory.rules.questions import Question
from inventory.rules.words import Grade


@dataclass(frozen=True, kw_only=True)
class FlagLine:
    """One flag: what raised it, by which section, and the owner's clearance if there is one."""

    key: str
    where: str
    message: str
    section: str
    grave: bool  # of brakes, steering or tyres
    by: str = ""
    at: datetime | None = None
    check_code: str = ""
    clearance: FlagClearance | None = None

    @property
    def is_open(self) -> bool:
        return self.clearance is None

    @property
    def stops_drives(self) -> bool:
        """Whether road tests and test drives wait for it."""
        return self.is_open and self.grave


def flag_of_result(result: CheckResult) -> Flag | None:
    check = CHECKS.get(result.check_code) or EARLIER.get(result.check_code)
    if check is None:
        return None
    return flag_of(check, grade=result.grade, reading=result.reading, compared_with=result.compared_with)


def flags_of(stay: Consignment, *, today: date) -> list[FlagLine]:
    """Every flag of the latest answers and figures; open ones and what stops drives first.

    A check that a later inspection of the stay answered again counts as answered then.
    """
    cleared = {row.key: row for row in FlagClearance.objects.filter(consignment=stay)}
    asked = [question for question in figures_of(stay, today=today).questions if question.stops_drives]
    lines = [
        *_of_answers(stay, cleared=cleared),
        *(_of_figure(question, cleared=cleared) for question in asked),
    ]
    return sorted(lines, key=lambda line: (not line.is_open, not line.grave))


def _of_answers(stay: Consignment, *, cleared: dict[str, FlagClearance]) -> list[FlagLine]:
    # what was carried over was not answered again: the answer itself counts, with its clearance
    rows = CheckResult.objects.filter(inspection__consignment=stay, carried_from__isnull=True)
    rows = rows.select_related("inspection")
    ordered = sorted(rows, key=lambda row: (row.check_code, row.inspection.number, row.told_order))
    latest = {code: list(group)[-1] for code, group in groupby(ordered, key=lambda row: row.check_code)}
    lines = []
    for check in (*CHECKS.values(), *EARLIER.values()):  # in walking order
        row = latest.get(check.code)
        flag = flag_of_result(row) if row is not None else None
        if row is None or flag is None:
            continue
        key = f"check-{row.pk}"
        lines.append(
            FlagLine(
                key=key, where=check.wording, message=flag.message, section=flag.section, grave=flag.stops_drives,
                by=row.by, at=row.at, check_code=check.code, clearance=cleared.get(key),
            )
        )  # fmt: skip
    return lines


def _of_figure(question: Question, *, cleared: dict[str, FlagClearance]) -> FlagLine:
    """A figure's flag is named by what it says: another figure says something else, and is another flag."""
    digest = hashlib.sha256(f"{question.where}\n{question.text}".encode()).hexdigest()
    key = f"figure-{digest[:32]}"
    return FlagLine(
        key=key, where=question.where, message=question.text, section=question.section, grave=True,
        clearance=cleared.get(key),
    )  # fmt: skip


_CAN_FLAG = [code for code, check in CHECKS.items() if check.limit or check.criterion]


def flagged_stays() -> dict[int, int]:
    """Of every stay still here with open flags of its answers, by key, how many: in three queries for a whole lot.

    Flags of figures are told in the file alone: they hang on several rows together.
    """
    here = CheckResult.objects.filter(
        inspection__consignment__released_on__isnull=True, check_code__in=_CAN_FLAG, carried_from__isnull=True
    ).select_related("inspection")
    doubtful = here.filter(Q(grade__lte=Grade.NEEDS_REPAIR) | Q(reading__isnull=False))
    raised = [row for row in doubtful if flag_of_result(row) is not None]
    stays, codes = {row.inspection.consignment_id for row in raised}, {row.check_code for row in raised}
    told = sorted(
        here.filter(inspection__consignment__in=stays, check_code__in=codes),
        key=lambda row: (row.inspection.number, row.told_order),
    )
    latest = {(row.inspection.consignment_id, row.check_code): row for row in told}
    cleared = set(FlagClearance.objects.filter(consignment__in=stays).values_list("consignment_id", "key"))
    return Counter(
        stay
        for (stay, _), row in latest.items()
        if flag_of_result(row) is not None and (stay, f"check-{row.pk}") not in cleared
    )


def flag_line(stay: Consignment, *, key: str, today: date) -> FlagLine:
    """The flag of this stay that has the key."""
    for line in flags_of(stay, today=today):
        if line.key == key:
            return line
    raise NotFound("not_found", "There is no such flag.", field="key", got=key)


def drives_stopped(stay: Consignment, *, today: date) -> list[FlagLine]:
    """The open flags because of which nobody drives it."""
    return [line for line in flags_of(stay, today=today) if line.stops_drives]
