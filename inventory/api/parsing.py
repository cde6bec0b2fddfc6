"""What comes in: strict JSON of a bounded size, so that nothing odd reaches a serializer."""

import json
from collections.abc import Mapping
from typing import IO, Any, Never

from rest_framework import exceptions
from rest_framework.parsers import JSONParser

MOST_BYTES = 2**20


class TooLarge(exceptions.APIException):
    status_code = 413
    default_detail = f"The request is larger than {MOST_BYTES} bytes."
    default_code = "too_large"


class StrictJSONParser(JSONParser):
    """Refuses what Python's reader lets through: NaN, infinities, a name given twice, half a character."""

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        text = stream.read(MOST_BYTES + 1)
        if len(text) > MOST_BYTES:
            raise TooLarge
        try:
            given = json.loads(text.decode("utf-8"), parse_constant=_no_number, object_pairs_hook=_named_once)
            json.dumps(given, ensure_ascii=False, allow_nan=False).encode("utf-8")
        except RecursionError as problem:
            raise exceptions.ParseError("The JSON is nested too deeply.") from problem
        except ValueError as problem:
            raise exceptions.ParseError(f"This is not JSON in UTF-8: {_plainly(problem)}.") from problem
        return given


def _no_number(word: str) -> Never:
    raise ValueError(f"{word} is not a number")


def _named_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a name is given twice in one object")
    return found


def _plainly(problem: ValueError) -> str:
    return "it holds bytes or half characters that are no text" if isinstance(problem, UnicodeError) else str(problem)
