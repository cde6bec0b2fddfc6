"""Past sales are imported: everything is checked first, then the good rows are written in one go."""

import hashlib
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from pathlib import Path
from typing import Any

from django.core.files import File
from django.db import transaction

from inventory.actions import logbook
from inventory.actions.import_reports import ACTS, SHOWN_REJECTS, Progress, Report, begun, judged_anew, record_of
from inventory.actions.writing import keep_file, trade_day
from inventory.models import SaleOutcome, SalesImport
from inventory.rules.floor_words import ImportKind
from inventory.rules.roles import Act, Actor, require
from inventory.rules.words import Result
from inventory.sheets import Fault, Options, Reject, Repeat, Row, Sale, SalesFile, read_sales, save_rejects, stock_key
from inventory.uploads import check_sheet

BATCH = 1000


@dataclass(frozen=True)
class Known:
    """The past sales that are there already: by stock number, and by content."""

    by_stock: dict[str, str]
    by_content: frozenset[str]

    def verdict(self, row: Row[Sale]) -> "Reject | str":
        """`new`, `already`, or the reject of a stock number that stands for other facts."""
        if row.content_hash in self.by_content:
            return "already"
        if row.sale.stock_number and stock_key(row.sale.stock_number) in self.by_stock:
            return _other_facts(row)
        return "new"


@judged_anew
def import_sales(
    path: Path,
    *,
    name: str,
    options: Options,
    by: Actor,
    at: datetime,
    dry_run: bool = False,
    rejects_to: Path | None = None,
    progress: Progress | None = None,
    record: SalesImport | None = None,
) -> Report:
    """Read one file and keep its good rows, each once however often the file is sent.

    All good rows are written or, on a crash, none. Refused when the file as a whole cannot be read.
    """
    require(by, Act.IMPORT_SALES)
    source = read_sales(path, name=name, options=options, today=trade_day(at), progress=progress)
    known = what_is_known()
    report, fresh = _judge(source, known=known)
    if rejects_to is not None:
        save_rejects(rejects_to, rejects=_rejects(source, known=known), source=source)
    if not dry_run:
        with transaction.atomic():
            kept = record or record_of(path, name=name, kind=ImportKind.PAST_SALES, by=by, at=at)
            kept.report = report.as_json(most=SHOWN_REJECTS)
            kept.save()
            _write(fresh, kept=kept, by=by, at=at)
            logbook.record(
                "import.finished", kept, by=by, at=at, name=name, imported=report.imported,
                already=report.already, rejected=report.rejected,
            )  # fmt: skip
    return report


@transaction.atomic
def keep_upload(
    file: File[bytes], *, name: str, by: Actor, at: datetime, kind: ImportKind = ImportKind.PAST_SALES
) -> SalesImport:
    """Keep an uploaded spreadsheet until its columns are confirmed."""
    require(by, ACTS[kind])
    check_sheet(name, size=file.size)
    digest = hashlib.sha256()
    for block in file.chunks():
        digest.update(block)
    row = SalesImport(name=name[:200], digest=digest.hexdigest(), kind=kind, by=by.name, at=at)
    with ExitStack() as undo:
        keep_file(row.file, name=f"{row.code}{Path(name).suffix.lower()}", content=file, undo=undo)
        row.save()
        undo.pop_all()
    logbook.record("import.uploaded", row, by=by, at=at, name=name)
    return row


@transaction.atomic
def keep_choices(import_id: int, *, choices: dict[str, Any], by: Actor) -> SalesImport:
    """Keep how the columns of an upload are to be read."""
    row = SalesImport.objects.select_for_update(of=("self",)).get(pk=import_id)
    require(by, ACTS[row.kind])
    row.choices = choices
    row.save(update_fields=["choices"])
    return row


def what_is_known() -> Known:
    rows = SaleOutcome.objects.filter(consignment__isnull=True).values_list("stock_number", "content_hash")
    pairs = list(rows.iterator())
    own = SaleOutcome.objects.live().filter(consignment__isnull=False).values_list("stock_number", "content_hash")
    by_stock = {stock_key(number): content for number, content in [*pairs, *own] if number}
    return Known(by_stock, frozenset(content for _, content in pairs if content))


def _judge(source: SalesFile, *, known: Known) -> tuple[Report, list[tuple[Sale, str]]]:
    """Count and judge every row without writing; the new sales, each with its content hash."""
    report = begun(total=source.total, warnings=source.warnings)
    fresh: list[tuple[Sale, str]] = []
    for outcome in source:
        if isinstance(outcome, Reject):
            report.note_reject(outcome)
            continue
        if isinstance(outcome, Repeat):
            report.already += 1
            report.warn(outcome.warning)
            continue
        verdict = known.verdict(outcome)
        if isinstance(verdict, Reject):
            report.note_reject(verdict)
        elif verdict == "already":
            report.already += 1
        else:
            report.imported += 1
            fresh.append((outcome.sale, outcome.content_hash))
            for warned in outcome.warnings:
                report.warn(warned)
    return report, fresh


def _rejects(source: SalesFile, *, known: Known) -> Iterator[Reject]:
    for outcome in source:
        if isinstance(outcome, Reject):
            yield outcome
        elif isinstance(outcome, Row) and isinstance(verdict := known.verdict(outcome), Reject):
            yield verdict


def _other_facts(row: Row[Sale]) -> Reject:
    number = row.sale.stock_number
    reason = (
        f"Stock number {number} is there already with other facts. "
        "Past sales are not overwritten: give this one its own number, or leave the row out."
    )
    return Reject(row.row, (Fault("stock_number", "stock_number", str(number), reason),), row.cells)


def _write(fresh: list[tuple[Sale, str]], *, kept: SalesImport, by: Actor, at: datetime) -> None:
    """One short bulk write: nobody else can write to SQLite meanwhile."""
    rows = (_outcome(sale, content_hash=content_hash, kept=kept, by=by, at=at) for sale, content_hash in fresh)
    while batch := list(islice(rows, BATCH)):
        SaleOutcome.objects.bulk_create(batch)


def _outcome(sale: Sale, *, content_hash: str, kept: SalesImport, by: Actor, at: datetime) -> SaleOutcome:
    return SaleOutcome(
        imported_with=kept, content_hash=content_hash, by=by.name, at=at,
        result=Result.SOLD if sale.result == Result.SOLD else Result.WITHDRAWN,
        price=sale.price, effective_price=sale.price, ended_on=sale.ended_on,
        modifications=None if sale.modifications is None else list(sale.modifications),
        mileage=sale.mileage_mi,
        **{name: getattr(sale, name) or "" for name in _TEXTS},
        **{name: getattr(sale, name) for name in _VALUES},
    )  # fmt: skip


_TEXTS = (
    "stock_number", "vin", "make", "model", "trim", "body", "engine", "transmission", "build_class", "color",
    "odometer_status", "title_brand", "reason", "channel",
)  # fmt: skip
_VALUES = (
    "year", "condition_low", "condition_high", "originality_low", "originality_high", "arrived_on", "listed_on",
    "first_ask", "last_ask",
)  # fmt: skip
