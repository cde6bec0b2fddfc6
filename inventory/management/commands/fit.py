"""manage.py fit: fit the price band to the lot's past sales, hold it against the last of them, price all stock."""

import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from inventory.actions import pricing
from inventory.errors import Refused
from inventory.management.commands._answers import as_json, refusal
from inventory.rules.elsewhere_words import learned_said
from inventory.rules.roles import command
from inventory.rules.track_record import MOST_REFITS, in_a_few_lines


class Command(BaseCommand):
    help = "Fit the price band to all sold outcomes, keep the fit with its track record, and price all stock with it."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--json", action="store_true", help="answer as one JSON object")
        parser.add_argument("--no-record", action="store_true", help="leave the back-test and time to sale out: faster")

    def handle(self, *_: Any, **given: Any) -> None:
        by, began = command("fit"), timezone.now()
        try:
            refits = 0 if given["no_record"] else MOST_REFITS
            fit = pricing.fit_prices(by=by, at=began, refits=refits)
            stock = pricing.price_stock(by=by, at=began)
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
                "seconds": round(seconds, 2), "record": fit.record.get("figures"), "flags": fit.flags,
                "priced": stock.priced, "thin": stock.thin, "elsewhere": fit.summary["elsewhere"],
            }  # fmt: skip
            as_json(self, body=body)
        else:
            self.stdout.write(f"Fitted to {fit.sales_used:,} sales in {seconds:.1f} s.")
            learned = learned_said(fit.summary["elsewhere"])
            for line in [*fit.summary["notes"], *learned, *in_a_few_lines(fit.record), *fit.flags, str(stock)]:
                self.stdout.write(f"  {line}")
