"""What schemathesis is told while `api_fuzz` runs it: inner rows with their own stay, and every answer counted."""

import atexit
import json
import os
from collections import Counter
from pathlib import Path
from typing import Any

import schemathesis

FOLDER = Path(os.environ["FUZZ_FOLDER"])
KNOWN: dict[str, Any] = json.loads((FOLDER / "known.json").read_text())
# The codes of one field or parameter alone. Any other is that of a rule; so is what is required beside another field.
OF_SHAPE = {
    "null", "blank", "invalid", "max_length", "min_length", "min_value", "max_value", "invalid_choice", "unknown",
    "not_a_list", "max_digits", "max_decimal_places", "max_whole_digits", "max_string_length", "key_unusable",
    "parse_error",
}  # fmt: skip
SEEN: Counter[tuple[str, int]] = Counter()


@schemathesis.hook
def before_call(context: Any, case: Any, kwargs: Any) -> None:
    """A real offer's number beside another stay's would be a 404 nearly always."""
    given = case.path_parameters or {}
    if given.get("stock_number") not in KNOWN["stock"]:
        return
    for name, owners in KNOWN.items():
        key = "code" if name == "receipt" and case.path.endswith("/file/") else name
        if isinstance(owners, dict) and str(given.get(key)) in owners:
            given["stock_number"] = owners[str(given[key])]


@schemathesis.check
def refused_by_rule_alone(ctx: Any, response: Any, case: Any) -> None:
    """In the place of `positive_data_acceptance`, which knows no rules: what fits the schema may be refused because a
    vehicle is sold already, never because of the shape of a field."""
    if response.status_code != 400 or case.meta is None or not case.meta.generation.mode.is_positive:
        return
    named = [error for error in response.json()["errors"] if error["field"] or error["code"] == "parse_error"]
    shape = [error for error in named if error["code"] in OF_SHAPE]  # without a field it is a rule of the whole row
    assert not shape, f"fits the schema and is refused by its shape: {shape}"


@schemathesis.hook
def after_call(context: Any, case: Any, response: Any) -> None:
    SEEN[(f"{case.method} {case.path}", response.status_code)] += 1


@atexit.register
def keep() -> None:
    (FOLDER / "counted.json").write_text(json.dumps([[*key, count] for key, count in sorted(SEEN.items())]))
