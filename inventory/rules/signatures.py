"""A signature made on the screen: strokes drawn on a field of 1000 × 400, or a name typed and ticked instead."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from inventory.errors import Refused
from inventory.rules.words import SignedBy

WIDTH, HEIGHT = 1000, 400
MOST_STROKES = 60
MOST_POINTS = 4000
LEAST_POINTS = 5
LEAST_REACH = 60
"""Width and height of the drawing together: less is a tap or a slip of the finger, not a signature."""

MOST_TEXT = 100_000
"""Longer than the most points can be written: not even read."""

Strokes = list[list[list[int]]]


@dataclass(frozen=True, kw_only=True)
class Signature:
    """How one side signed: strokes as drawn, or `typed` when the typed name stands for them."""

    strokes: Any = ()
    typed: bool = False


def parse_strokes(text: str, *, field: str) -> Any:
    """The strokes as a page sends them: JSON text; nothing drawn is an empty list."""
    if not text.strip():
        return []
    if len(text) > MOST_TEXT:
        raise _refused("too_long", "The drawing is too large.", field=field, got=len(text))
    try:
        return json.loads(text)
    except (ValueError, RecursionError) as problem:
        raise _refused("not_strokes", "The drawing did not arrive whole.", field=field, got=text[:40]) from problem


def check_strokes(given: Any, *, field: str) -> Strokes:
    """The drawing as lists of whole points, or Refused: too much, too little, or not a drawing at all."""
    if not isinstance(given, Sequence) or isinstance(given, str):
        raise _refused("not_strokes", "The drawing is not a list of strokes.", field=field, got=type(given).__name__)
    if len(given) > MOST_STROKES:
        raise _refused("too_long", f"The drawing has more than {MOST_STROKES} strokes.", field=field, got=len(given))
    strokes = [[_point(point, field=field) for point in _stroke(stroke, field=field)] for stroke in given]
    points = [point for stroke in strokes for point in stroke]
    if len(points) > MOST_POINTS:
        raise _refused("too_long", f"The drawing has more than {MOST_POINTS} points.", field=field, got=len(points))
    if len(points) < LEAST_POINTS or _reach(points) < LEAST_REACH:
        raise _refused("too_short", "The drawing is too small for a signature.", field=field, got=len(points))
    return strokes


def check_signature(signature: Signature, *, name: str, field: str) -> tuple[SignedBy, Strokes]:
    """How somebody signed and what they drew. A signature has a name; drawn and typed at once says two things."""
    if not name.strip():
        raise Refused("no_name", "The signature has no name.", field=field, mend="Give the full name of the signer.")
    if signature.typed and signature.strokes:
        raise Refused(
            "signed_twice",
            f"{name.strip()} both drew a signature and signed by typing the name.",
            field=field,
            mend="Clear the drawing, or take out the tick.",
        )
    if signature.typed:
        return SignedBy.TYPED, []
    if not signature.strokes:
        raise Refused(
            "not_signed",
            f"{name.strip()} has not signed.",
            field=field,
            mend="Draw the signature, or tick that the typed name stands for it.",
        )
    return SignedBy.DRAWN, check_strokes(signature.strokes, field=field)


def _stroke(given: Any, *, field: str) -> Sequence[Any]:
    if not isinstance(given, Sequence) or isinstance(given, str) or not given:
        raise _refused("not_strokes", "A stroke is not a list of points.", field=field, got=type(given).__name__)
    if len(given) > MOST_POINTS:
        raise _refused("too_long", f"A stroke has more than {MOST_POINTS} points.", field=field, got=len(given))
    return given


def _point(given: Any, *, field: str) -> list[int]:
    if not isinstance(given, Sequence) or isinstance(given, str) or len(given) != 2:
        raise _refused("not_strokes", "A point is not a pair of numbers.", field=field, got=str(given)[:40])
    for number, most in zip(given, (WIDTH, HEIGHT), strict=True):
        if isinstance(number, bool) or not isinstance(number, int) or not 0 <= number <= most:
            said = f"A point of the drawing lies at {str(given)[:40]}, outside {WIDTH} by {HEIGHT}."
            raise _refused("not_strokes", said, field=field, got=str(given)[:40])
    return list(given)


def _reach(points: list[list[int]]) -> int:
    across, down = [x for x, _ in points], [y for _, y in points]
    return (max(across) - min(across)) + (max(down) - min(down))


def _refused(code: str, message: str, *, field: str, got: Any) -> Refused:
    return Refused(code, message, field=field, got=got, mend="Clear it and sign again, or sign by typing the name.")
