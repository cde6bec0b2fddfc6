"""What a check's answer says against the published limits: a safety flag, which a person decides about."""

from decimal import Decimal

from inventory.rules import limits
from inventory.rules.catalogue import Check
from inventory.rules.limit_rows import CRITERIA, LIMITS, STOPS_DRIVES
from inventory.rules.limits import Conditions, Flag
from inventory.rules.words import Grade

ROAD_TEST = "road_test"


def flag_of(
    check: Check, *, grade: int | None, reading: Decimal | None = None, compared_with: Decimal | None = None
) -> Flag | None:
    """The flag that one answer raises, if it raises one.

    A reading beyond its limit does; so does a criterion of the rule that is graded *needs repair* or worse, and a
    check with a limit that is graded *failed* without a reading beyond it.
    """
    if check.limit and reading is not None:
        beyond = limits.judge(check.limit, reading, **conditions_of(check, compared_with=compared_with))
        if beyond is not None:
            return beyond
    if grade is not None and check.criterion and grade <= Grade.NEEDS_REPAIR:
        return limits.failed(check.criterion)
    if grade == Grade.FAILED and check.limit and LIMITS[check.limit].system in STOPS_DRIVES:
        return limits.failed_without_reading(check.limit)
    return None


def conditions_of(check: Check, *, compared_with: Decimal | None) -> Conditions:
    """What the limit of a check depends on, as far as it is known. Vehicles over 10,000 lb are not asked for yet."""
    given: Conditions = {}
    if compared_with is not None:
        if LIMITS[check.limit].of_maker:
            given["maker_figure"] = compared_with
        else:
            given["size_in"] = compared_with
    return given


def compared_label(check: Check) -> str:
    """What else is read for this check's limit; "" where nothing is."""
    limit = LIMITS.get(check.limit)
    if limit is None:
        return ""
    if limit.of_maker:
        return f"Maker's figure, {limit.unit}"
    if any(row.sizes for row in limit.rows if row.heavy is not True):
        return f"{limit.asks.removeprefix('the ').capitalize()}, inches"
    return ""


def stops_drives(check: Check) -> bool:
    """Whether a flag on this check can stop road tests and test drives."""
    systems = {LIMITS[check.limit].system} if check.limit else set()
    systems |= {CRITERIA[check.criterion].system} if check.criterion else set()
    return not systems.isdisjoint(STOPS_DRIVES)
