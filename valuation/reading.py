"""From a frame to plain arrays: what each column must hold, and what counts as missing."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from valuation.errors import BadInput, BadOption

Array = NDArray[np.float64]
Words = NDArray[np.object_]
JOIN = "\x1f"  # between the levels of a nested name; no keyboard types it
DAY = np.timedelta64(1, "D")


@dataclass(frozen=True)
class Roles:
    """Which column plays which part. `freed` rows are (rising input, column, value): there its sign is free."""

    nested: tuple[str, ...] = ()
    factors: tuple[str, ...] = ()
    smooth: tuple[str, ...] = ()
    rising: tuple[str, ...] = ()
    flags: tuple[str, ...] = ()
    freed: tuple[tuple[str, str, str], ...] = ()
    date: str | None = None

    @property
    def numbers(self) -> tuple[str, ...]:
        """Names of the inputs that are carried as numbers, the date (in days) last."""
        return (*self.smooth, *self.rising, *self.flags, *((self.date,) if self.date else ()))

    @property
    def words(self) -> tuple[str, ...]:
        return (*self.nested, *self.factors)

    def check(self) -> None:
        """Refuse a column in two roles and a freed effect of what is not rising.

        Raises
        ------
        BadOption
            Naming the column.
        """
        names = [*self.words, *self.numbers]
        twice = sorted({name for name in names if names.count(name) > 1})
        if twice:
            raise BadOption(f"each column must have one role, got {twice[0]!r} in more than one", column=twice[0])
        if len({name for name, _, _ in self.freed}) < len(self.freed):
            raise BadOption("freed must name each rising input at most once, got one twice")
        for name, column, _ in self.freed:
            if name not in self.rising:
                raise BadOption(f"freed must name a rising input, got {name!r}", column=name)
            if column not in self.factors:
                raise BadOption(f"freed must name one of the factors, got {column!r}", column=column)


@dataclass(frozen=True)
class Table:
    """The inputs of `size` vehicles as arrays: numbers with NaN where missing, words with "" where missing.

    `low` and `high` hold the ends of the rising inputs; where no interval was given all three are equal.
    A nested level holds its whole path, so that equal model names of two makes stay apart.
    """

    size: int
    numbers: dict[str, Array]
    words: dict[str, Words]
    low: dict[str, Array] = field(default_factory=dict)
    high: dict[str, Array] = field(default_factory=dict)

    def take(self, index: Any) -> "Table":
        """The rows named by an index array or a slice."""

        def pick(columns: dict[str, Any]) -> dict[str, Any]:
            return {name: values[index] for name, values in columns.items()}

        size = len(np.arange(self.size)[index])
        return Table(size, pick(self.numbers), pick(self.words), pick(self.low), pick(self.high))

    def join(self, other: "Table") -> "Table":
        """These rows, then those of a table with the same inputs; words that only the other has are "" here."""

        def both(mine: dict[str, Array], others: dict[str, Array]) -> dict[str, Array]:
            return {name: np.concatenate([values, others[name]]) for name, values in mine.items()}

        nothing = np.full(self.size, "", dtype=object)
        words = {name: np.concatenate([self.words.get(name, nothing), said]) for name, said in other.words.items()}
        numbers, low, high = (both(getattr(self, name), getattr(other, name)) for name in ("numbers", "low", "high"))
        return Table(self.size + other.size, numbers, words, low, high)


def read(frame: pd.DataFrame, *, roles: Roles) -> Table:
    """Read the columns that the roles name; the frame itself is left as it is.

    Raises
    ------
    BadInput
        A column is missing, text stands where a number must, a number is infinite, an interval is upside
        down.
    """
    if not isinstance(frame, pd.DataFrame):
        raise BadInput(f"frame must be a pandas DataFrame, got {type(frame).__name__}")
    numbers: dict[str, Array] = {}
    low: dict[str, Array] = {}
    high: dict[str, Array] = {}
    for name in (*roles.smooth, *roles.flags):
        numbers[name] = number_column(frame, name=name)
    for name in roles.rising:
        numbers[name], low[name], high[name] = interval_column(frame, name=name)
    if roles.date:
        numbers[roles.date] = date_column(frame, name=roles.date)
    words = {name: word_column(frame, name=name) for name in roles.words}
    return Table(len(frame), numbers, _with_paths(words, nested=roles.nested), low, high)


def column_of(frame: pd.DataFrame, *, name: str) -> "pd.Series[Any]":
    """One column, or a refusal that names it."""
    if name not in frame.columns:
        raise BadInput(f"frame must have the column {name!r}, got {_listed(frame.columns)}", column=name)
    if not frame.columns.is_unique and (times := int((frame.columns == name).sum())) > 1:
        raise BadInput(f"frame must have the column {name!r} once, got it {times} times", column=name)
    return frame[name]


def number_column(frame: pd.DataFrame, *, name: str) -> Array:
    """Numbers as floats, NaN where missing. Text and infinite values are refused with the row."""
    column = column_of(frame, name=name)
    if isinstance(column.dtype, pd.StringDtype) or column.dtype == object:
        for row, value in column.items():
            if isinstance(value, str):
                raise BadInput(f"{name} must be a number, got {value!r} in row {row!r}", column=name, row=row)
    elif not (pd.api.types.is_numeric_dtype(column) or pd.api.types.is_bool_dtype(column)):
        raise BadInput(f"{name} must be a number, got a column of {column.dtype}", column=name)
    try:
        values: Array = column.to_numpy(dtype=np.float64, na_value=np.nan)
    except (TypeError, ValueError) as error:
        raise BadInput(f"{name} must be a number, got otherwise: {error}", column=name) from error
    bad = np.isinf(values)
    if bad.any():
        row = column.index[int(np.argmax(bad))]
        raise BadInput(f"{name} must be finite, got {values[bad][0]} in row {row!r}", column=name, row=row)
    return values


def interval_column(frame: pd.DataFrame, *, name: str) -> tuple[Array, Array, Array]:
    """A rising input as (middle, low, high), from `name`, or from `name_low` and `name_high`, or from all
    three.

    The middle is `name` where it is given, else half-way between the ends; the ends are the middle where they
    are not given. One end alone, or ends in the wrong order, is refused.
    """
    ends = (f"{name}_low", f"{name}_high")
    has_ends = [end in frame.columns for end in ends]
    if not any(has_ends):
        middle = number_column(frame, name=name)
        return middle, middle, middle
    low, high = (number_column(frame, name=end) for end in ends)
    middle = number_column(frame, name=name) if name in frame.columns else np.full(len(frame), np.nan)
    middle = np.where(np.isnan(middle), (low + high) / 2, middle)
    low, high = np.where(np.isnan(low), middle, low), np.where(np.isnan(high), middle, high)
    _refuse_rows(frame, bad=np.isnan(low) != np.isnan(high), name=name, text="must have both ends or neither")
    _refuse_rows(frame, bad=(low > middle) | (middle > high), name=name, text="must have low <= middle <= high")
    return middle, low, high


def _refuse_rows(frame: pd.DataFrame, *, bad: NDArray[np.bool_], name: str, text: str) -> None:
    if bad.any():
        row = frame.index[int(np.argmax(bad))]
        raise BadInput(f"{name} {text}, got otherwise in row {row!r}", column=name, row=row)


def date_column(frame: pd.DataFrame, *, name: str) -> Array:
    """Dates (date, datetime or ISO text) as days since 1970-01-01, NaN where missing."""
    column = column_of(frame, name=name)
    if not pd.api.types.is_datetime64_any_dtype(column):
        for row, value in column.items():
            if isinstance(value, int | float) and value == value:  # NaN alone differs from itself
                raise BadInput(f"{name} must be a date, got {value!r} in row {row!r}", column=name, row=row)
    try:
        moments = pd.to_datetime(column, utc=True, format="ISO8601")
    except (ValueError, TypeError) as error:
        raise BadInput(f"{name} must be a date or ISO text, got otherwise: {error}", column=name) from error
    naive = moments.dt.tz_localize(None).to_numpy()
    days: Array = np.where(np.isnat(naive), np.nan, (naive - np.datetime64(0, "D")) / DAY)
    return days


def word_column(frame: pd.DataFrame, *, name: str) -> Words:
    """Names of categories without regard to capitals and outer blanks; "" where missing."""
    codes, found = pd.factorize(column_of(frame, name=name))
    clean = np.array([*(_word(value) for value in found), ""], dtype=object)
    words: Words = clean[codes]  # the code of a missing value is -1: the last, empty word
    return words


def _word(value: Any) -> str:
    if isinstance(value, float) and value.is_integer():
        value = int(value)  # a column of whole numbers turns to floats as soon as one is missing
    return str(value).strip().casefold()


def _with_paths(words: dict[str, Words], *, nested: tuple[str, ...]) -> dict[str, Words]:
    """Replace each nested level by its path; under a missing level all lower ones are missing."""
    for upper, lower in pairwise(nested):
        above, below = words[upper], words[lower]
        known = (above != "") & (below != "")
        words[lower] = np.where(known, above + JOIN + below, "")
    return words


def _listed(columns: Iterable[Any]) -> str:
    names = [str(column) for column in columns]
    return ", ".join(names[:12]) + (", …" if len(names) > 12 else "") if names else "no columns"


def price_column(price: Any, *, size: int) -> Array:
    """Selling prices: one positive finite number per row.

    Raises
    ------
    BadInput
        Another length, a price that is missing, infinite, zero or negative; the first such row is named.
    """
    try:
        values: Array = np.asarray(price, dtype=np.float64)
    except (TypeError, ValueError) as error:
        raise BadInput(f"price must be numbers, got otherwise: {error}", column="price") from error
    if values.shape != (size,):
        raise BadInput(f"price must have the shape ({size},), got {values.shape}", column="price")
    bad = ~(np.isfinite(values) & (values > 0))
    if bad.any():
        at = int(np.argmax(bad))
        row = price.index[at] if isinstance(price, pd.Series) else at
        raise BadInput(f"price must be positive and finite, got {values[at]} in row {row!r}", column="price", row=row)
    return values
