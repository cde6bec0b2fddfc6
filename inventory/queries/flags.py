"""Safety flags of one stay: what each answer says against the published limits, and what the owner cleared."""

from dataclasses import dataclass
from itertools import groupby

from inventory.errors import NotFound
from inventory.models import CheckResult, Consignment, FlagClearance
from inventory.rules.catalogue import CHECKS, EARLIER, Check
from inventory.rules.flags import flag_of
from inventory.rules.limits import Flag


@dataclass(frozen=True)
class FlagLine:
    """One flag: the check and answer that raised it, and the owner's clearance if there is one."""

    check: Check
    result: CheckResult
    flag: Flag
    clearance: FlagClearance | None

    @property
    def is_open(self) -> bool:
        return self.clearance is None

    @property
    def stops_drives(self) -> bool:
        return self.is_open and self.flag.stops_drives


def flag_of_result(result: CheckResult) -> Flag | None:
    check = CHECKS.get(result.check_code) or EARLIER.get(result.check_code)
    if check is None:
        return None
    return flag_of(check, grade=result.grade, reading=result.reading, compared_with=result.compared_with)


def flags_of(stay: Consignment) -> list[FlagLine]:
    """Every flag of the latest answers of a stay, over all its inspections; open ones and what stops drives first.

    A check that a later inspection answered again counts as answered then.
    """
    rows = CheckResult.objects.filter(inspection__consignment=stay).select_related("inspection", "clearance")
    ordered = sorted(rows, key=lambda row: (row.check_code, row.inspection.number, row.told_order))
    latest = [list(group)[-1] for _, group in groupby(ordered, key=lambda row: row.check_code)]
    lines = [
        FlagLine(CHECKS.get(row.check_code) or EARLIER[row.check_code], row, flag, getattr(row, "clearance", None))
        for row in latest
        if (flag := flag_of_result(row)) is not None
    ]
    places = {code: place for place, code in enumerate(CHECKS)}
    return sorted(
        lines, key=lambda line: (not line.is_open, not line.flag.stops_drives, places.get(line.check.code, 0))
    )


def flag_line(stay: Consignment, *, result_id: int) -> FlagLine:
    """The flag that one result of this stay raises."""
    for line in flags_of(stay):
        if line.result.pk == result_id:
            return line
    raise NotFound("not_found", "There is no such flag.", field="result", got=result_id)


def drives_stopped(stay: Consignment) -> list[FlagLine]:
    """The open flags because of which nobody drives it."""
    return [line for line in flags_of(stay) if line.stops_drives]
