"""A fit is tried before it is used: what would be stored is read back and asked about past sales and the stock."""

import json
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from inventory.bridge.frames import frame_of
from valuation import BadStore, from_dict
from valuation.schema import check

MOST = 1e10  # what a column of money no longer holds


def why_unusable(state: Mapping[str, Any], *, rows: Sequence[Mapping[str, Any]], beside: Sequence[Any] = ()) -> str:
    """What is wrong with a fit as a sentence; empty where it may be used.

    `rows` are vehicles in the columns of the history. Where the evidence is too thin for a band, none is asked for.
    `beside` is what is stored with the fit.
    """
    try:
        kept = [json.loads(json.dumps(one, allow_nan=False)) for one in (state, *beside)]
        model = from_dict(kept[0])
    except (BadStore, ValueError, TypeError) as problem:
        return f"What it learned cannot be stored and read back: {problem}."
    if kept[0] != state:
        return "What it learned is not the same after it was stored and read back."
    if not rows:
        return ""
    frame = frame_of(rows)
    check(frame)
    with np.errstate(over="ignore", invalid="ignore"):  # what overflows is what is looked for
        told = model.band(frame).loc[model.evidence(frame)["enough"].astype(bool), ["low", "likely", "high"]]
    low, likely, high = (told[name].to_numpy(dtype=float) for name in ("low", "likely", "high"))
    fine = (likely > 0) & (low >= 0) & (low <= likely) & (likely <= high) & (high < MOST)
    wrong = int(np.count_nonzero(~fine))
    return f"It gives no sound price for {wrong} of {len(rows)} vehicles that it was tried on." if wrong else ""
