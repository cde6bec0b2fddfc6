"""The back-test of the band on the lot's own history, as JSON takes it."""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from inventory.bridge.bands import unsettled
from inventory.bridge.elsewhere import elsewhere_of
from inventory.bridge.frames import frame_of, money_of
from inventory.rules.track_record import Plan
from valuation import BacktestSummary, NotConverged, backtest, honest_share, vehicle_model
from valuation.schema import check

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Tested:
    """A back-test as JSON takes it: figures (null where there is none) and one row per sale, oldest first."""

    figures: dict[str, float | int | None]
    sales: list[dict[str, Any]]
    expected: list[tuple[float, float]]  # share inside an honest band after 1, 2, … sales with a band


def back_test(
    rows: Sequence[Mapping[str, Any]],
    *,
    prices: Iterable[Decimal],
    plan: Plan,
    coverage_percent: int,
    elsewhere: Sequence[Mapping[str, Any]] = (),
    progress: Progress | None = None,
) -> Tested:
    """What the band would have been for each of the last sales, from the sales before it alone.

    `rows` are rows of the history with their `id`. Money comes back as text, to the cent. Of `elsewhere` each fit takes
    what was dated before its block.
    """
    frame = frame_of(rows)
    check(frame)
    try:
        past = backtest(
            vehicle_model(coverage=coverage_percent / 100), frame, [float(price) for price in prices], date="ended_on",
            start=plan.start, step=plan.step, elsewhere=elsewhere_of(elsewhere), progress=progress,
        )  # fmt: skip
    except NotConverged as problem:
        raise unsettled(problem) from problem
    tested = past.frame.reset_index(names="place").to_dict("records")
    sales = [_tested_sale(found, outcome=rows[found["place"]]["id"]) for found in tested]
    figures, errors = past.summary(), int(past.frame["fitted_on"].median())
    banded = figures.coverage.count if figures.coverage else 0
    expected = [honest_share(count, coverage=past.stated, errors=errors) for count in range(1, banded + 1)]
    return Tested(_figures(figures, expected=expected[-1] if expected else (None, None)), sales, expected)


def _tested_sale(found: Mapping[Any, Any], *, outcome: int) -> dict[str, Any]:
    return {
        "outcome": outcome, "ended_on": str(found["date"]), "fitted_on": int(found["fitted_on"]),
        **{name: _shown(found[name]) for name in ("low", "likely", "high", "actual")},
        "inside": bool(found["inside"]),
    }  # fmt: skip


def _shown(amount: float) -> str | None:
    return None if math.isnan(amount) else str(money_of(amount))


def _figures(
    found: BacktestSummary, *, expected: tuple[float, float] | tuple[None, None]
) -> dict[str, float | int | None]:
    """Counts, shares and ratios, null where there is none."""
    held, ratios = found.coverage, found.ratios
    figures: dict[str, float | int | None] = {
        "count": found.count, "hit_rate": found.hit_rate, "stated": found.stated,
        "banded": held.count if held else 0, "inside": held.inside if held else 0,
        "share": held.share if held else None, "share_low": held.low if held else None,
        "share_high": held.high if held else None, "expected_low": expected[0], "expected_high": expected[1],
        "median_error": found.median_error, "interval_score": found.interval_score,
        **{name: getattr(ratios, name) if ratios else None for name in RATIO_FIGURES},
        "prd_low": found.prd_low, "prd_high": found.prd_high,
    }  # fmt: skip
    return {name: None if isinstance(value, float) and math.isnan(value) else value for name, value in figures.items()}


RATIO_FIGURES = ("median_ratio", "mean_ratio", "weighted_ratio", "cod", "prd", "prb", "within_10")
