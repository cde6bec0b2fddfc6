"""One invented lot with its stays and a fit to them, drawn once, and vehicles that stand on it."""

from datetime import date
from functools import cache
from typing import Any

import numpy as np
import pandas as pd

from valuation.outlook import Outlook, outlooks
from valuation.simulate_stays import QUALITY_SD, simulate_stays
from valuation.time_to_sale import TimeToSale
from valuation.unseen import moved_bands, read_positions

LAST = date(2030, 6, 30)
NEVER = float("nan")


@cache
def drawn() -> pd.DataFrame:
    found = simulate_stays(200, ending_on=LAST, seed=4, knowing=0.5)
    return found.stays.assign(likely=np.exp(found.truth["median"]), sd=QUALITY_SD)


def stays() -> pd.DataFrame:
    """200 of them; a copy, so that a test may change it."""
    return drawn().copy()


@cache
def fitted_stays() -> TimeToSale:
    return TimeToSale().fit(drawn())


def stand(**changes: Any) -> pd.DataFrame:
    """One vehicle that has just been listed, with an 80 % band of 18,000 to 23,000."""
    row: dict[str, Any] = {
        "low": 18_000.0, "likely": 20_000.0, "high": 23_000.0, "on": "2030-07-01", "exposed_days": 0.0, "asks": (),
        "best_offer": NEVER, "followed": False, "build_class": "restored", "make": drawn()["make"].iloc[0],
    }  # fmt: skip
    return pd.DataFrame({name: [value] for name, value in (row | changes).items()})


def moved(model: TimeToSale | None = None, **changes: Any) -> dict[str, float]:
    model, frame = model or fitted_stays(), stand(**changes)
    band = moved_bands(model, read_positions(model, frame, coverage=0.8), band=frame, coverage=0.8)
    return {str(name): float(value) for name, value in band.iloc[0].items()}


def told(
    plans: Any, *, days: Any = (1, 10, 60, 180), last_day: int = 180, floor: float | None = 15_000.0, **changes: Any
) -> list[Outlook]:
    positions = read_positions(fitted_stays(), stand(**changes), coverage=0.8)
    return outlooks(fitted_stays(), positions, plans=plans, days=days, last_day=last_day, floor=floor)
