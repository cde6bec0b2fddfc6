"""manage.py price STOCK_NUMBER, --vehicle FILE.json or --all-stock: one band with its parts, or all in one batch."""

import json
import sys
from decimal import Decimal
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from inventory.actions import pricing
from inventory.errors import Refused
from inventory.forms.described import described_vehicle
from inventory.management.commands._answers import as_json, refusal
from inventory.queries.lot import consignment_id_of
from inventory.rules.money import round_money, show
from inventory.rules.roles import command


class Command(BaseCommand):
    help = "Print the price band of a vehicle of the lot or of one described in a JSON file, or price all stock."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("stock_number", nargs="?")
        parser.add_argument("--vehicle", type=Path, metavar="FILE.json", help="keys as in the import; null: not known")
        parser.add_argument("--all-stock", action="store_true", help="new opinions for all that stands unsold")
        parser.add_argument("--json", action="store_true", help="answer as one JSON object")

    def handle(self, *_: Any, **given: Any) -> None:
        if [bool(given[name]) for name in ("stock_number", "vehicle", "all_stock")].count(True) != 1:
            raise CommandError("Give a stock number, --vehicle FILE.json or --all-stock, one of the three.")
        try:
            if given["all_stock"]:
                self._all_stock(in_json=given["json"])
                return
            body = self._of_stock(given["stock_number"]) if given["stock_number"] else self._of_file(given["vehicle"])
        except Refused as problem:
            if given["json"]:
                as_json(self, body=refusal(problem))
            self.stderr.write(str(problem))
            sys.exit(3 if problem.code == "too_little_evidence" else 2)
        if given["json"]:
            as_json(self, body=body)
        else:
            self._table(body)

    def _all_stock(self, *, in_json: bool) -> None:
        done = pricing.price_stock(by=command("price"), at=timezone.now())
        if in_json:
            as_json(self, body={"priced": done.priced, "thin": done.thin})
        else:
            self.stdout.write(str(done))

    def _of_stock(self, stock_number: str) -> dict[str, Any]:
        pk = consignment_id_of(stock_number)
        opinion = pricing.give_opinion(pk, by=command("price"), at=timezone.now())
        return {
            "low": float(opinion.low), "likely": float(opinion.likely), "high": float(opinion.high),
            "coverage": opinion.coverage_percent / 100, "sales_used": opinion.fit.sales_used,
            "parts": [{"name": part["name"], "amount": float(part["amount"])} for part in opinion.parts],
            "notes": opinion.notes, "evidence": opinion.evidence,
        }  # fmt: skip

    def _of_file(self, path: Path) -> dict[str, Any]:
        row = described_vehicle(_read(path), today=timezone.localdate())
        fit = pricing.needed_fit()
        band = pricing.price_row(row, fit=fit)
        return {
            "low": float(band.low), "likely": float(band.likely), "high": float(band.high),
            "coverage": fit.summary["coverage_percent"] / 100, "sales_used": fit.sales_used,
            "parts": [{"name": part.name, "amount": float(part.amount)} for part in band.parts],
            "notes": list(band.notes), "evidence": band.evidence,
        }  # fmt: skip

    def _table(self, body: dict[str, Any]) -> None:
        self.stdout.write(f"{'low':>16} {'likely':>16} {'high':>16}")
        self.stdout.write(" ".join(f"{_shown(body[end]):>16}" for end in ("low", "likely", "high")))
        self.stdout.write(
            f"A band meant to hold {body['coverage']:.0%} of sales, from {body['sales_used']:,} past sales."
        )
        for part in body["parts"]:
            self.stdout.write(f"  {part['name']:<24}{_shown(part['amount']):>16}")
        self.stdout.write(f"  {'likely':<24}{_shown(body['likely']):>16}")
        for note in body["notes"]:
            self.stdout.write(f"  note: {note}")


def _shown(amount: float) -> str:
    return show(round_money(Decimal(str(amount))))


def _read(path: Path) -> Any:
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, json.JSONDecodeError) as problem:
        raise Refused("unreadable", f"{path.name} cannot be read: {problem}.", mend="Give a JSON file.") from problem
