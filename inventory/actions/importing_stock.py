"""The current stock comes in by spreadsheet: every row is checked, then all are written through the usual actions."""

from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from typing import Any

from django.db import transaction

from inventory.actions import agreeing, asking, intake, logbook, recording
from inventory.actions.import_reports import SHOWN_REJECTS, Progress, Report, begun, record_of
from inventory.actions.intake import Arrival
from inventory.actions.writing import locked_lot, trade_day
from inventory.errors import Refused
from inventory.models import Consignment, SalesImport
from inventory.queries.onboarding import (
    People,
    Person,
    StayKnown,
    consignors_known,
    past_stock_numbers,
    stays_known,
)
from inventory.rules.floor_words import ImportKind
from inventory.rules.people import same_phone
from inventory.rules.roles import Act, Actor, require
from inventory.rules.words import PlanKind
from inventory.sheets import (
    STOCK,
    Fault,
    InStock,
    Options,
    Reject,
    Repeat,
    Row,
    SheetFile,
    Warned,
    read_sheet,
    save_rejects,
)

NEXT = "Vehicles came in as on the lot: walk each one, then record its papers and numbers, before it is listed."


@dataclass(frozen=True)
class _Here:
    """What was here before the file came."""

    stays: list[StayKnown]
    hashes: frozenset[str]
    past_numbers: frozenset[str]
    key_tags: set[str]

    @classmethod
    def now(cls) -> "_Here":
        stays = stays_known()
        hashes = frozenset(stay.content_hash for stay in stays if stay.content_hash)
        tags = {stay.key_tag for stay in stays if stay.key_tag and stay.is_open}
        return cls(stays, hashes, past_stock_numbers(), tags)

    def verdict(self, row: Row[InStock]) -> "Reject | Warned | None":
        """None for a new vehicle, a warning for one that is here already, a reject where that is not clear."""
        said = row.record
        number = (said.stock_number or "").casefold()
        by_number = next((stay for stay in self.stays if number and stay.stock_number.casefold() == number), None)
        if by_number is not None:
            return _of_known(row, stay=by_number)
        if number in self.past_numbers:
            return _reject(row, column="stock_number", why="This number is that of a past sale. Give it another one.")
        by_vin = next((stay for stay in self.stays if said.vin and stay.is_open and stay.serial == said.vin), None)
        if by_vin is None or not _is_vehicle(by_vin, said=said):
            return self._of_keys(row)
        if said.stock_number is None:
            return _is_here(row, stay=by_vin)
        return _reject(row, column="vin", why=f"This vehicle is here already, as {by_vin.stock_number}.")

    def _of_keys(self, row: Row[InStock]) -> Reject | None:
        tag = row.record.key_tag
        if tag is None or tag not in self.key_tags:
            return None
        return _reject(row, column="key_tag", why=f"Tag {tag} is on the keys of another vehicle. Give it its own.")


@dataclass
class _Work:
    """The file on its way in."""

    kept: SalesImport
    source: SheetFile[InStock]
    report: Report
    by: Actor
    at: datetime
    people: People = field(default_factory=consignors_known)
    rejects: list[Reject] = field(default_factory=list)


def import_stock(
    path: Path, *, name: str, options: Options, by: Actor, at: datetime, dry_run: bool = False,
    rejects_to: Path | None = None, progress: Progress | None = None, record: SalesImport | None = None,
) -> Report:  # fmt: skip
    """Read one file and take its good rows in, each once however often the file is sent.

    All are written in one transaction; a row that an action refuses leaves no trace. A dry run does the same and then
    takes all of it back, so that it refuses what the real one would.
    """
    require(by, Act.IMPORT_STOCK)
    source = read_sheet(path, kind=STOCK, name=name, options=options, today=trade_day(at), progress=progress)
    outcomes = list(source)  # all of the file is read and checked before the first row is written
    with transaction.atomic():
        locked_lot()  # two files at once: the second sees what the first took in
        kept = record or record_of(path, name=name, kind=ImportKind.STOCK, by=by, at=at)
        kept.save()
        work = _Work(kept, source, begun(total=source.total, warnings=source.warnings), by, at)
        _take_all(outcomes, work=work)
        report = _finish(work)
        kept.report = report.as_json(most=SHOWN_REJECTS)
        kept.save()
        logbook.record(
            "stock.imported", kept, by=by, at=at, name=name, imported=report.imported, already=report.already,
            rejected=report.rejected,
        )  # fmt: skip
        if dry_run:
            transaction.set_rollback(True)
    if rejects_to is not None:
        save_rejects(rejects_to, rejects=work.rejects, source=source)
    return report


def _take_all(outcomes: list[Any], *, work: _Work) -> None:
    """Rows with a number of their own first: the numbers that the house gives keep clear of them."""
    here = _Here.now()
    for outcome in sorted(outcomes, key=lambda one: isinstance(one, Row) and one.record.stock_number is None):
        if isinstance(outcome, Reject):
            work.rejects.append(outcome)
        elif isinstance(outcome, Repeat):
            work.report.already += 1
            work.report.warn(outcome.warning)
        else:
            _take(outcome, here=here, work=work)


def _take(row: Row[InStock], *, here: _Here, work: _Work) -> None:
    if row.content_hash in here.hashes:
        work.report.already += 1
        return
    verdict = here.verdict(row)
    if isinstance(verdict, Reject):
        work.rejects.append(verdict)
    elif verdict is not None:
        work.report.already += 1
        work.report.warn(verdict)
    else:
        try:
            with transaction.atomic():
                _write(row, work=work)
            here.key_tags.add(row.record.key_tag or "")
        except Refused as problem:
            work.rejects.append(_refused(row, problem=problem, work=work))


def _write(row: Row[InStock], *, work: _Work) -> None:
    """One vehicle by the actions that people use: what they refuse, this refuses."""
    said, by, at = row.record, work.by, work.at
    person = work.people.find(email=said.consignor_email or "", phone=said.consignor_phone or "")
    stay = intake.log_vehicle(_arrival(row, person=person, work=work), by=by, at=at)
    if said.has_terms():
        agreeing.agree_terms(stay.pk, terms=_terms(said), by=by, at=at)
    if said.ask is not None:
        asking.set_ask(stay.pk, amount=said.ask, reason="as it was asked before", since=said.ask_since, by=by, at=at)
    if said.place is not None:
        recording.record_place(stay.pk, place=said.place, by=by, at=at)
    work.report.imported += 1
    for warned in (*row.warnings, *_about_person(row, person=person)):
        work.report.warn(warned)
    if person is None:
        work.people.rows.append(_person_of(stay))


def _arrival(row: Row[InStock], *, person: Person | None, work: _Work) -> Arrival:
    said = row.record
    who: dict[str, Any] = {"consignor_id": person.pk} if person else {
        name: getattr(said, name) or "" for name in ("consignor_name", "consignor_email", "consignor_phone")
    }  # fmt: skip
    texts: dict[str, Any] = {name: getattr(said, name) or "" for name in _TEXTS}
    return Arrival(
        year=said.year, make=said.make, model=said.model, mileage=said.mileage_mi,
        odometer_status=said.odometer_status, arrived_on=said.arrived_on, vin_read_off="",
        imported_with_id=work.kept.pk, content_hash=row.content_hash, **who,
        **texts,
    )  # fmt: skip


_TEXTS = (
    "trim", "body", "engine", "transmission", "color", "build_class", "title_brand", "vin", "vin_reason", "note",
    "stock_number", "key_tag",
)  # fmt: skip


def _terms(said: InStock) -> agreeing.NewTerms:
    starts, ends = said.agreement_starts_on or date.min, said.agreement_ends_on or date.min  # has_terms: both are said
    return agreeing.NewTerms(
        plan_kind=_plan(said), starts_on=starts, ends_on=ends, rate=said.commission_rate,
        minimum=said.commission_minimum, flat=said.commission_flat, floor=said.floor, signed_by=said.signed_by or "",
        signed_on=said.signed_on,
    )  # fmt: skip


def _plan(said: InStock) -> str:
    if said.commission_flat is not None:
        return PlanKind.FLAT
    return PlanKind.PERCENT if said.commission_minimum is None else PlanKind.PERCENT_WITH_MINIMUM


def _about_person(row: Row[InStock], *, person: Person | None) -> list[Warned]:
    """What the row says otherwise of somebody who is known."""
    said = row.record
    if person is None:
        return []
    told = (("name", said.consignor_name), ("email", said.consignor_email), ("phone", said.consignor_phone))
    other = [what for what, value in told if value and value.casefold() != getattr(person, what).casefold()]
    other = [what for what in other if what != "phone" or not same_phone(said.consignor_phone or "", person.phone)]
    if not other:
        return []
    text = f"Taken as the consignor {person.name}; the row's {', '.join(other)} was not taken over."
    return [Warned(row.row, "consignor_name", text)]


def _person_of(stay: Consignment) -> Person:
    who = stay.consignor
    return Person(who.pk, who.name, who.email, who.phone)


def _is_vehicle(stay: StayKnown, *, said: InStock) -> bool:
    return stay.is_vehicle(vin=said.vin, year=said.year, make=said.make, model=said.model)


def _of_known(row: Row[InStock], *, stay: StayKnown) -> Reject | Warned:
    if _is_vehicle(stay, said=row.record):
        return _is_here(row, stay=stay)
    return _reject(row, column="stock_number", why="This number is on another vehicle already. Give it its own.")


def _is_here(row: Row[InStock], *, stay: StayKnown) -> Warned:
    return Warned(
        row.row, "stock_number",
        f"It is here already, as {stay.stock_number}: what the row says otherwise was not taken over.",
    )  # fmt: skip


def _reject(row: Row[InStock], *, column: str, why: str) -> Reject:
    return Reject(row.row, (Fault(column, column, str(getattr(row.record, column, "")), why),), row.cells)


_COLUMN_OF = {
    "rate": "commission_rate", "minimum": "commission_minimum", "flat": "commission_flat", "amount": "ask",
    "starts_on": "agreement_starts_on", "ends_on": "agreement_ends_on", "name": "consignor_name",
    "email": "consignor_email", "phone": "consignor_phone", "serial": "vin", "mileage": "mileage",
}  # fmt: skip


def _refused(row: Row[InStock], *, problem: Refused, work: _Work) -> Reject:
    """What an action refused, at the column that it is about."""
    column = _COLUMN_OF.get(problem.field, problem.field)
    header = work.source.matching.header_of(column)
    return Reject(row.row, (Fault(column, header, str(problem.got or ""), str(problem)),), row.cells)


def _finish(work: _Work) -> Report:
    """The rejects in the order of the file; and what is still to be done with what came in."""
    work.rejects.sort(key=lambda reject: reject.row)
    for reject in work.rejects:
        work.report.note_reject(reject)
    work.report.warnings.sort(key=lambda told: told["row"] or 0)
    if work.report.imported:
        work.report.warnings.insert(0, {"row": None, "column": "", "message": NEXT})
    return work.report
