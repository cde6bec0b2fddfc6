"""The component ledger is written: its lines, and when the vehicle was built."""

import uuid
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import add, again, locked, trade_day
from inventory.errors import Refused, TooLate
from inventory.models import BuildDate, ComponentRecord, Consignment
from inventory.rules.components import COMPONENT_TITLES
from inventory.rules.date_codes import check_span, spoken
from inventory.rules.plausibility import check_not_future
from inventory.rules.roles import Act, Actor, require
from inventory.rules.words import Basis, Standing


@dataclass(frozen=True, kw_only=True)
class Line:
    """One statement about one component, as given by whoever looked. What is not given is not known.

    `after` is the id of the line the writer looked at, 0 where there was none: a line that came in between is not
    written over unseen. None asks for no such care.
    """

    component: str
    standing: str = Standing.NOT_ESTABLISHED
    basis: str = Basis.NOT_ESTABLISHED
    not_fitted: bool = False
    as_found: str = ""
    as_built: str = ""
    as_built_basis: str = Basis.NOT_ESTABLISHED
    number: str = ""
    number_basis: str = Basis.NOT_ESTABLISHED
    date_code: str = ""
    earliest_on: date | None = None
    latest_on: date | None = None
    date_basis: str = Basis.NOT_ESTABLISHED
    note: str = ""
    after: int | None = None
    client_key: uuid.UUID | None = None


@transaction.atomic
def record_component(consignment_id: int, *, line: Line, by: Actor, at: datetime) -> ComponentRecord:
    """Write one line of the component ledger. The latest line of a component counts, the earlier ones stay."""
    require(by, Act.INSPECT)
    stay = locked(consignment_id)
    if (known := again(ComponentRecord, client_key=line.client_key)) is not None:
        return known
    given = _checked(line, today=trade_day(at))
    _refuse_unseen(stay, line=line)
    row = add(ComponentRecord(vehicle=stay.vehicle, **given, by=by.name, at=at))
    logbook.record(
        "inspection.component", row, by=by, at=at, consignment=stay, component=COMPONENT_TITLES[line.component],
        standing="never had one" if row.not_fitted else row.get_standing_display(), basis=row.get_basis_display(),
    )  # fmt: skip
    return row


def _checked(line: Line, *, today: date) -> dict[str, Any]:
    """The columns of a line that makes sense by itself; texts without white space around them."""
    if line.component not in COMPONENT_TITLES:
        raise Refused(
            "no_such_component", f"There is no component {line.component}.", field="component", got=line.component,
            mend=f"Use one of {', '.join(COMPONENT_TITLES)}.",
        )  # fmt: skip
    given = {name: value.strip() if isinstance(value, str) else value for name, value in asdict(line).items()}
    del given["after"]
    check_span(line.earliest_on, line.latest_on)
    if line.earliest_on is not None:
        check_not_future(line.earliest_on, today=today, field="earliest_on")
    _check_basis("number", given=bool(given["number"]), basis=line.number_basis)
    _check_basis("date", given=bool(given["date_code"]) or line.earliest_on is not None, basis=line.date_basis)
    if line.not_fitted:
        _check_nothing_there(given)
    return given


def _check_basis(what: str, *, given: bool, basis: str) -> None:
    """What is given rests on something; what is not given rests on nothing."""
    if given == (basis != Basis.NOT_ESTABLISHED):
        return
    raise Refused(
        "basis_missing" if given else "basis_of_nothing",
        f"The {what} is given without a basis." if given else f"There is a basis, but no {what}.",
        field=f"{what}_basis", got=basis,
        mend="Say what it rests on: measured means read off the part itself." if given
        else f"Give the {what}, or leave its basis out.",
    )  # fmt: skip


def _check_nothing_there(given: dict[str, Any]) -> None:
    names = ("as_found", "number", "date_code", "earliest_on")
    if given["standing"] != Standing.NOT_ESTABLISHED or any(given[name] for name in names):
        raise Refused(
            "never_had_one", "The vehicle never had one, yet something is said of it.", field="not_fitted", got=True,
            mend="Take one of the two out. What was added later is non-original.",
        )  # fmt: skip


def _refuse_unseen(stay: Consignment, *, line: Line) -> None:
    """Refuse a line that was decided on an older one."""
    if line.after is None:
        return
    rows = ComponentRecord.objects.filter(vehicle=stay.vehicle_id, component=line.component)
    latest = rows.order_by("-pk").first()
    if latest is not None and latest.pk != line.after:
        raise TooLate(
            "stale_line",
            f"{latest.by} wrote a line of this component since you looked: {latest.get_standing_display()} "
            f"({latest.get_basis_display()}).",
            field="after", got=latest.pk, mend="Look again, then repeat what still applies.",
        )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Built:
    """When the vehicle was built, the first and the last day it can have been, and where that was read."""

    earliest_on: date
    latest_on: date
    basis: str
    source: str
    client_key: uuid.UUID | None = None


@transaction.atomic
def record_build_date(consignment_id: int, *, built: Built, by: Actor, at: datetime) -> BuildDate:
    """Say when the vehicle was built. The latest statement counts, the earlier ones stay."""
    require(by, Act.INSPECT)
    stay = locked(consignment_id)
    if (known := again(BuildDate, client_key=built.client_key)) is not None:
        return known
    check_span(built.earliest_on, built.latest_on)
    check_not_future(built.earliest_on, today=trade_day(at), field="earliest_on")
    row = add(
        BuildDate(
            vehicle=stay.vehicle, earliest_on=built.earliest_on, latest_on=built.latest_on, basis=built.basis,
            source=built.source.strip(), client_key=built.client_key, by=by.name, at=at,
        )
    )  # fmt: skip
    logbook.record(
        "vehicle.build_date", row, by=by, at=at, consignment=stay, basis=row.get_basis_display(), source=row.source,
        span=spoken(row.earliest_on, latest=row.latest_on),
    )  # fmt: skip
    return row
