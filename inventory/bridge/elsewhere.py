"""Sales elsewhere on their way into a fit, and what the fit learned of them as JSON takes it."""

from collections.abc import Mapping, Sequence
from math import expm1, isnan
from typing import Any

import pandas as pd

from inventory.bridge.frames import frame_of
from valuation import Elsewhere, PriceModel
from valuation.schema import check

RANGE = 1.2816  # standard deviations on each side that hold 80 of 100
_LABEL = "elsewhere "  # before the id: a sale elsewhere may have the id of one of the lot's own


def elsewhere_of(rows: Sequence[Mapping[str, Any]]) -> Elsewhere | None:
    """Rows in the columns of the history with their `id`, `price`, `kind` and `source`; None where there are none."""
    if not rows:
        return None
    frame = frame_of(rows)
    check(frame)
    return Elsewhere(
        frame.set_axis(pd.Index([f"{_LABEL}{row['id']}" for row in rows], dtype=object)),
        [float(row["price"]) for row in rows],
        [row["kind"] for row in rows],
        [row["source"] for row in rows],
    )


def id_of(label: Any) -> int | None:
    """The id behind a label of the frame; None where it is not that of a sale elsewhere."""
    return int(label.removeprefix(_LABEL)) if isinstance(label, str) and label.startswith(_LABEL) else None


def learned_of(model: PriceModel) -> dict[str, Any]:
    """Whether the fit uses them, and by kind how far they stand apart in percent and how much one counts."""
    market = model.elsewhere_
    if market is None:
        return {}
    kinds = [
        {
            "kind": kind.name, "count": kind.count, "weight": round(kind.weight, 4),
            "offset_percent": _percent(kind.offset), "low_percent": _percent(kind.offset - RANGE * kind.sd),
            "high_percent": _percent(kind.offset + RANGE * kind.sd),
        }
        for kind in market.kinds
    ]  # fmt: skip
    gain = None if isnan(market.gain) else round(market.gain, 4)
    return {"used": market.used, "count": market.count, "gain": gain, "kinds": kinds}


def _percent(log: float) -> float:
    return round(100 * expm1(log), 2)
