"""How commands answer: one line or one JSON object, and an exit code."""

import json
from typing import Any

from django.core.management.base import BaseCommand

from inventory.errors import Refused


def as_json(command: BaseCommand, *, body: dict[str, Any]) -> None:
    command.stdout.write(json.dumps(body, ensure_ascii=False, default=str))


def refusal(problem: Refused) -> dict[str, Any]:
    return {"error": {"code": problem.code, "field": problem.field, "message": str(problem)}}
