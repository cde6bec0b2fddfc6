"""manage.py import_sales FILE: past sales from a spreadsheet."""

import argparse
import sys
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from inventory.actions.importing import Report, import_sales
from inventory.errors import Refused
from inventory.management.commands._answers import as_json
from inventory.rules.roles import command
from inventory.sheets import CANONICAL, Options, parse_century


class Command(BaseCommand):
    help = (
        "Import past sales from a CSV or XLSX file. Columns are matched by their usual names; bad rows are "
        "rejected one by one with the reason, good rows are imported once however often the file is sent."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--dry-run", action="store_true", help="say what would happen, write nothing")
        parser.add_argument("--rejects", type=Path, metavar="OUT.csv", help="write the rejected rows there")
        parser.add_argument("--json", action="store_true", help="answer as one JSON object")
        parser.add_argument("--date-order", choices=["mdy", "dmy"], help="what 3/4/2021 means")
        parser.add_argument("--two-digit-years", metavar="19xx", help="the century of a model year like '69")
        parser.add_argument("--two-digit-dates", metavar="20xx", help="the century of a date like 3/14/21")
        parser.add_argument("--column", action="append", default=[], metavar='price="Sold for"', type=_pair)
        parser.add_argument("--ignore-column", action="append", default=[], metavar="HEADER")
        parser.add_argument("--decimal-mark", choices=[".", ","], default=".")
        parser.add_argument("--sheet", help="the sheet of a workbook")

    def handle(self, *_: Any, **given: Any) -> None:
        quiet = given["json"] or not sys.stderr.isatty()
        try:
            report = import_sales(
                given["file"],
                name=given["file"].name,
                options=_options(given),
                by=command("import_sales"),
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


def _pair(text: str) -> tuple[str, str]:
    canonical, mark, header = text.partition("=")
    if not mark or canonical not in CANONICAL:
        raise argparse.ArgumentTypeError(f'{text} must look like price="Sold for", with one of {", ".join(CANONICAL)}.')
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
    )
