"""What finding something out about one vehicle is worth in money, under a stored fit."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import isnan
from typing import Any

from inventory.bridge.bands import read_back
from inventory.bridge.frames import cells_of, frame_of, money_of
from inventory.rules.unanswered import Possible
from valuation import band_widths
from valuation.knowing import expected_widths
from valuation.schema import check


@dataclass(frozen=True)
class Worth:
    """One question: the width to expect once it is answered, what that saves, and how often no band would be left."""

    width: Decimal | None
    worth: Decimal | None
    without_band: float


@dataclass(frozen=True)
class Knowing:
    """The band as it is, how wide it would be with everything known, and each question by its name."""

    low: Decimal | None
    likely: Decimal | None
    high: Decimal | None
    least_width: Decimal | None
    worths: dict[str, Worth]


def worth_of_knowing(
    row: Mapping[str, Any], *, questions: Mapping[str, Sequence[Possible]], state: dict[str, Any]
) -> Knowing:
    """Price one vehicle anew for every possible answer of every question, all in one batch."""
    model, frame = read_back(state), frame_of([row])
    asked = {
        name: [(float(one.share), cells_of(one.changes)) for one in answers] for name, answers in questions.items()
    }
    check(frame)
    found = expected_widths(model, frame, questions=asked)
    band = model.band(frame).iloc[0]
    least = band_widths(model, frame)["least_width"].iloc[0]
    low, likely, high = (_money(band[name]) for name in ("low", "likely", "high"))
    worths = {
        str(name): Worth(_money(told["width"]), _money(told["worth"]), float(told["without_band"]))
        for name, told in found.iterrows()
    }
    return Knowing(low, likely, high, _money(least), worths)


def _money(amount: Any) -> Decimal | None:
    return None if isnan(amount) else money_of(amount)
