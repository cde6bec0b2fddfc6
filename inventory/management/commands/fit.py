"""manage.py fit: fit the price band to the lot's past sales."""

import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from inventory.actions.pricing import fit_prices
from inventory.errors import Refused
from inventory.management.commands._answers import as_json, refusal
from inventory.rules.roles import command


class Command(BaseCommand):
    help = "Fit the price band to all sold outcomes and keep the fit."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--json", action="store_true", help="answer as one JSON object")

    def handle(self, *_: Any, **given: Any) -> None:
        began = timezone.now()
        try:
            fit = fit_prices(by=command("fit"), at=began)
        except Refused as problem:
            if given["json"]:
                as_json(self, body=refusal(problem))
            self.stderr.write(str(problem))
            sys.exit(3)
        seconds = (timezone.now() - began).total_seconds()
        if given["json"]:
            body = {
                "fit": fit.pk, "sales_used": fit.sales_used, "sales_hash": fit.sales_hash,
                "coverage": fit.summary["coverage_percent"] / 100, "notes": fit.summary["notes"],
                "seconds": round(seconds, 2),
            }  # fmt: skip
            as_json(self, body=body)
        else:
            self.stdout.write(f"Fitted to {fit.sales_used:,} sales in {seconds:.1f} s.")
            for note in fit.summary["notes"]:
                self.stdout.write(f"  {note}")
