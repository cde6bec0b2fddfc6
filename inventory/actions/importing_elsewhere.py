"""Sales elsewhere are imported: everything is checked first, then the good rows are written in one go."""

from collections import defaultdict
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.elsewhere import imported
from inventory.actions.import_reports import SHOWN_REJECTS, Progress, Report, begun, judged_anew, record_of
from inventory.actions.writing import trade_day
from inventory.errors import Refused
from inventory.models import MarketSale, SalesImport
from inventory.queries.elsewhere import all_tellings, imported_hashes
from inventory.rules.elsewhere import Telling, told_before
from inventory.rules.floor_words import ImportKind
from inventory.rules.roles import Act, Actor, require
from inventory.sheets import ELSEWHERE, Elsewhere, Options, Reject, Repeat, Row, SheetFile, Warned, read_sheet
from inventory.sheets import save_rejects as write_down

BATCH = 1000


class _Heard:
    """The tellings so far, here and in the file, by day and price."""

    def __init__(self, known: list[Telling]) -> None:
        self._by_day: dict[tuple[date, Decimal], list[Telling]] = defaultdict(list)
        for telling in known:
            self._by_day[telling.ended_on, telling.price].append(telling)

    def hear(self, telling: Telling) -> Telling | None:
        """The earlier telling of the same sale, if there is one; from now on this one is known too."""
        same = self._by_day[telling.ended_on, telling.price]
        earlier = told_before(telling, among=same)
        same.append(telling)
        return earlier


@judged_anew
def import_elsewhere(
    path: Path, *, name: str, options: Options, by: Actor, at: datetime, dry_run: bool = False,
    rejects_to: Path | None = None, progress: Progress | None = None, record: SalesImport | None = None,
) -> Report:  # fmt: skip
    """Read one file and keep its good rows, each once however often the file is sent.

    A row that looks like a sale told before by somebody else is kept and questioned in the report.
    """
    require(by, Act.RECORD_ELSEWHERE)
    source = read_sheet(
        path, kind=ELSEWHERE, name=name, options=options, today=trade_day(at), progress=progress
    )  # fmt: skip
    refuse_without_source(source)
    report, fresh = _judge(source)
    if rejects_to is not None:
        write_down(rejects_to, rejects=(row for row in source if isinstance(row, Reject)), source=source)
    if not dry_run:
        with transaction.atomic():
            kept = record or record_of(path, name=name, kind=ImportKind.ELSEWHERE, by=by, at=at)
            kept.report = report.as_json(most=SHOWN_REJECTS)
            kept.save()
            rows = [imported(row.record, content_hash=row.content_hash, kept=kept, by=by, at=at) for row in fresh]
            MarketSale.objects.bulk_create(rows, batch_size=BATCH)
            logbook.record(
                "elsewhere.imported", kept, by=by, at=at, name=name, imported=report.imported,
                already=report.already, rejected=report.rejected,
            )  # fmt: skip
    return report


def refuse_without_source(source: SheetFile[Elsewhere]) -> None:
    """Without a column and without a word for the whole file every row would be rejected."""
    if "source" not in source.matching.columns and not source.options.source.strip():
        raise Refused(
            "elsewhere_no_source", "The file does not say where these sales were told.", field="source",
            mend="Say it for the whole file (--source TEXT), or name the column that holds it.",
        )  # fmt: skip


def _judge(source: SheetFile[Elsewhere]) -> tuple[Report, list[Row[Elsewhere]]]:
    """Count and judge every row without writing; the new sales."""
    report = begun(total=source.total, warnings=source.warnings)
    known, heard = imported_hashes(), _Heard(all_tellings())
    fresh: list[Row[Elsewhere]] = []
    for outcome in source:
        if isinstance(outcome, Reject):
            report.note_reject(outcome)
        elif isinstance(outcome, Repeat):
            report.already += 1
            report.warn(outcome.warning)
        elif outcome.content_hash in known:
            report.already += 1
        else:
            report.imported += 1
            fresh.append(outcome)
            _question(outcome, heard=heard, report=report)
    return report, fresh


def _question(row: Row[Elsewhere], *, heard: _Heard, report: Report) -> None:
    for warned in row.warnings:
        report.warn(warned)
    earlier = heard.hear(row.record.telling())
    if earlier is not None:
        told = f"told by {earlier.source}" if earlier.source != row.record.source else "from the same source"
        report.warn(
            Warned(
                row.row, "price",
                f"A sale of this vehicle on this day at this price is there already, {told}. "
                "If it is the same sale, take one of the two out.",
            )
        )  # fmt: skip
