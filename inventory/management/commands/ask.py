"""manage.py ask STOCK_NUMBER: what may come of each ask, which one is suggested, and what to check next."""

import sys
from decimal import Decimal
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from inventory.actions import pricing
from inventory.errors import Refused
from inventory.management.commands._answers import as_json, refusal
from inventory.queries import ask_desk
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.chances import chance_said
from inventory.rules.money import show_whole
from inventory.rules.words import Objective

HEADINGS = ("ask", "ask/likely", "day 30", "day 60", "day 90", "end", "price", "net", "gross")


class Command(BaseCommand):
    help = "Print what may come of each ask for a vehicle of the lot. Nothing is stored. Ends with 3 without evidence."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("stock_number")
        parser.add_argument("--objective", choices=Objective.values, help="what to suggest an ask for; else the lot's")
        parser.add_argument("--json", action="store_true", help="answer as one JSON object")

    def handle(self, *_: Any, **given: Any) -> None:
        objective = Objective(given["objective"]) if given["objective"] else None
        try:
            stay = stay_by_number(given["stock_number"])
            body = ask_desk.body_of(stay, fit=pricing.needed_fit(), today=timezone.localdate(), objective=objective)
        except Refused as problem:
            if given["json"]:
                as_json(self, body=refusal(problem))
            self.stderr.write(str(problem))
            sys.exit(3 if problem.code == "too_little_evidence" else 2)
        if given["json"]:
            as_json(self, body=_in_numbers(body))
        else:
            self._table(body)

    def _table(self, body: dict[str, Any]) -> None:
        self.stdout.write(" ".join(f"{heading:>11}" for heading in HEADINGS))
        for row in body["asks"]:
            chances = [chance_said(chance) for chance in row["chance"].values()]
            amounts = [_shown(row[name]) for name in ("expected_price", "consignor_net", "lot_gross")]
            cells = [_shown(row["ask"]), f"{row['ask_ratio']:.2f}", *chances, *amounts]
            self.stdout.write(" ".join(f"{cell:>11}" for cell in cells))
        suggested = body["suggested"]
        if suggested["ask"] is not None:
            self.stdout.write(f"Suggested: {_shown(suggested['ask'])}, {Objective(suggested['objective']).label}.")
        self.stdout.write(suggested["reason"])
        for row in body["check_next"][:5]:
            self.stdout.write(f"  check next: {row['question']} (worth {_shown(row['worth'])})")
        for note in body["notes"]:
            self.stdout.write(f"  note: {note}")


def _shown(amount: Decimal | None) -> str:
    return "not known" if amount is None else show_whole(amount)


def _in_numbers(value: Any) -> Any:
    """Amounts as JSON numbers, for programs that draw."""
    if isinstance(value, dict):
        return {name: _in_numbers(item) for name, item in value.items()}
    if isinstance(value, list):
        return [_in_numbers(item) for item in value]
    return float(value) if isinstance(value, Decimal) else value
