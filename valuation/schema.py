"""The columns of a vehicle sale: units, ranges, and which part each plays in the price."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from valuation.errors import BadInput
from valuation.model import PriceModel
from valuation.reading import date_column, number_column

MODIFIED = "modified"
BUILD_CLASSES = ("survivor", "restored", "modified", "replica")
MODIFICATION_KINDS = (
    "engine", "transmission", "suspension", "brakes", "wheels", "body", "paint", "interior", "electrical", "other",
)  # fmt: skip


@dataclass(frozen=True)
class Column:
    """What one column holds. Missing is allowed everywhere; `low` and `high` are the range that is accepted."""

    name: str
    kind: str
    unit: str = ""
    low: float = -np.inf
    high: float = np.inf


def mods_column(kind: str) -> str:
    """Name of the column that counts the modifications of one kind.

    Examples
    --------
    >>> mods_column("engine")
    'mods_engine'
    """
    return f"mods_{kind}"


COLUMNS = (
    Column("year", "number", "model year", 1885, 2100),
    Column("make", "words"),
    Column("model", "words"),
    Column("trim", "words"),
    Column("body", "words"),
    Column("engine", "words"),
    Column("transmission", "words"),
    Column("build_class", "words"),
    Column("color", "words"),
    Column("mileage", "number", "miles", 0, 2_000_000),
    Column("odometer_status", "words"),
    Column("condition_low", "number", "points of 100", 0, 100),
    Column("condition_high", "number", "points of 100", 0, 100),
    Column("originality_low", "number", "points of 100", 0, 100),
    Column("originality_high", "number", "points of 100", 0, 100),
    Column("title_brand", "words"),
    Column("channel", "words"),
    Column("ended_on", "date"),
    *(Column(mods_column(kind), "number", "modifications of this kind", 0, 100) for kind in MODIFICATION_KINDS),
)
NAMES = tuple(column.name for column in COLUMNS)


def check(frame: pd.DataFrame) -> None:
    """Refuse a frame of vehicles that lacks a column or holds a value out of its range.

    Parameters
    ----------
    frame : the columns of `COLUMNS`, in the units given there; any value may be missing

    Raises
    ------
    BadInput
        Naming the first column at fault, the row, and what would be accepted.

    Examples
    --------
    >>> frame = pd.DataFrame({name: [None] for name in NAMES})
    >>> check(frame)
    >>> check(frame.assign(mileage=-5))
    Traceback (most recent call last):
    valuation.errors.BadInput: mileage must be from 0 to 2000000 (miles), got -5 in row 0
    """
    for column in COLUMNS:
        if column.kind == "number":
            _check_range(frame, column=column)
        elif column.kind == "date":
            date_column(frame, name=column.name)
        elif column.name not in frame.columns:
            raise BadInput(f"frame must have the column {column.name!r}, got none", column=column.name)


def _check_range(frame: pd.DataFrame, *, column: Column) -> None:
    values = number_column(frame, name=column.name)
    bad = (values < column.low) | (values > column.high)
    if bad.any():
        at = int(np.argmax(bad))
        row = frame.index[at]
        span = f"from {column.low:g} to {column.high:.0f} ({column.unit})"
        text = f"{column.name} must be {span}, got {values[at]:g} in row {row!r}"
        raise BadInput(text, column=column.name, row=row)


def vehicle_model(coverage: float = 0.80) -> PriceModel:
    """The model of a lot's prices, not yet fitted.

    Parameters
    ----------
    coverage : share of sales to fall inside the band

    Notes
    -----
    Originality rises for survivors and restored vehicles; of a modified one its effect is free, since it was
    changed on purpose. Colour, trim and engine are left out: a lot has too few sales to tell them from the
    model.

    Examples
    --------
    >>> vehicle_model(coverage=0.90).coverage
    0.9
    """
    return PriceModel(
        nested=("make", "model"),
        factors=("body", "transmission", "build_class", "title_brand", "channel", "odometer_status"),
        smooth=("year", "mileage"),
        rising=("condition", "originality"),
        flags=tuple(mods_column(kind) for kind in MODIFICATION_KINDS),
        freed=(("originality", "build_class", MODIFIED),),
        date="ended_on",
        coverage=coverage,
    )
