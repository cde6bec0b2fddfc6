"""What the commands share that read a spreadsheet: options, progress, and the answer row by row."""

import argparse
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any, ClassVar

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from inventory.actions.import_reports import Report
from inventory.errors import Refused
from inventory.management.commands._answers import as_json
from inventory.rules.roles import command
from inventory.sheets import Kind, Options, parse_century


class SheetCommand(BaseCommand):
    """One command for each kind of sheet: `name` acts, `kind` is read, `take` is the action."""

    name: ClassVar[str]
    kind: ClassVar[Kind[Any]]
    take: ClassVar[Callable[..., Report]]

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--dry-run", action="store_true", help="say what would happen, write nothing")
        parser.add_argument("--rejects", type=Path, metavar="OUT.csv", help="write the rejected rows there")
        parser.add_argument("--json", action="store_true", help="answer as one JSON object")
        parser.add_argument("--date-order", choices=["mdy", "dmy"], help="what 3/4/2021 means")
        parser.add_argument("--two-digit-years", metavar="19xx", help="the century of a model year like '69")
        parser.add_argument("--two-digit-dates", metavar="20xx", help="the century of a date like 3/14/21")
        pair = partial(_pair, known=self.kind.layout.columns)
        parser.add_argument("--column", action="append", default=[], metavar='price="Sold for"', type=pair)
        parser.add_argument("--ignore-column", action="append", default=[], metavar="HEADER")
        parser.add_argument("--decimal-mark", choices=[".", ","], default=".")
        parser.add_argument("--sheet", help="the sheet of a workbook")

    def handle(self, *_: Any, **given: Any) -> None:
        quiet = given["json"] or not sys.stderr.isatty()
        try:
            report = type(self).take(
                given["file"],
                name=given["file"].name,
                options=_options(given),
                by=command(self.name),
                at=timezone.now(),
                dry_run=given["dry_run"],
                rejects_to=given["rejects"],
                progress=None if quiet else self._progress,
            )
        except Refused as problem:
            self.stderr.write(str(problem))
            sys.exit(2)
        if given["json"]:
            as_json(self, body=report.as_json())
        else:
            self._tell(report, dry_run=given["dry_run"])

    def _progress(self, done: int, of: int) -> None:
        self.stderr.write(f"\rread {done:,} of {of:,}", ending="" if done < of else "\n")

    def _tell(self, report: Report, *, dry_run: bool) -> None:
        would = "would be " if dry_run else ""
        self.stdout.write(
            f"{report.read:,} rows read: {report.imported:,} {would}imported, {report.already:,} there already, "
            f"{report.rejected:,} rejected."
        )
        for reject in report.rejects[:20]:
            self.stdout.write(f"  row {reject['row']}, {reject['column']}: {reject['reason']}")
        if report.rejected > 20:
            self.stdout.write(f"  and {report.rejected - 20:,} more; --rejects OUT.csv writes them all.")
        for warning in report.warnings[:20]:
            where = f"row {warning['row']}, {warning['column']}: " if warning["row"] else ""
            self.stdout.write(f"  warning: {where}{warning['message']}")
        if len(report.warnings) > 20:
            self.stdout.write(f"  and {len(report.warnings) - 20:,} more warnings; --json lists them all.")


def _pair(text: str, *, known: tuple[str, ...]) -> tuple[str, str]:
    canonical, mark, header = text.partition("=")
    if not mark or canonical not in known:
        raise argparse.ArgumentTypeError(f'{text} must look like price="Sold for", with one of {", ".join(known)}.')
    return canonical, header.strip("\"'")


def _options(given: dict[str, Any]) -> Options:
    years, dates = given["two_digit_years"], given["two_digit_dates"]
    return Options(
        columns=dict(given["column"]),
        ignore=tuple(given["ignore_column"]),
        date_order=given["date_order"],
        two_digit_years=parse_century(years) if years else None,
        two_digit_dates=parse_century(dates) if dates else None,
        decimal_mark=given["decimal_mark"],
        sheet=given["sheet"],
        source=given.get("source", ""),
    )
