"""Sales elsewhere as inputs: what they are, and the words by which the model tells them from the lot's own."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from valuation.errors import BadInput
from valuation.reading import Array, Roles, Table, Words, date_column, price_column, read, word_column

ANYWHERE = "elsewhere"
KIND, SOURCE, GROUP = "elsewhere: kind", "elsewhere: source", "elsewhere: group"  # no column of a frame is named so
# Where a sale elsewhere may stand apart, with the kind of block. The last: a market that pays more for one make.
APART = {ANYWHERE: "elsewhere-offset", KIND: "elsewhere-offset", SOURCE: "elsewhere-apart", GROUP: "elsewhere-apart"}


@dataclass(frozen=True)
class Elsewhere:
    """Sales that were not the lot's own.

    Parameters
    ----------
    frame : one row per sale with the columns of every role
    price : in currency units, shape (n_elsewhere,), each positive
    kind : a word per row, such as "sold" or "bid", shape (n_elsewhere,): each kind has its own offset and weight
    source : a word per row, or "" where it is not known, shape (n_elsewhere,)
    """

    frame: pd.DataFrame
    price: Any
    kind: Any
    source: Any

    def __len__(self) -> int:
        return len(self.frame)

    def take(self, rows: Any) -> "Elsewhere":
        """The rows of an index array.

        Examples
        --------
        >>> there = Elsewhere(pd.DataFrame({"make": ["Tarn", "Merrow"]}), [9000, 8000], ["sold", "bid"], ["", ""])
        >>> there.take([1]).frame["make"].tolist()
        ['Merrow']
        """
        picked = (np.asarray(values)[rows] for values in (self.price, self.kind, self.source))
        return Elsewhere(self.frame.iloc[rows], *picked)


def before(elsewhere: Elsewhere | None, *, date: str, day: float) -> Elsewhere | None:
    """The sales elsewhere of the days before one; None where there are none.

    Parameters
    ----------
    date : name of the column of sale dates; a sale without a date counts as later
    day : days since 1970-01-01

    Examples
    --------
    >>> frame = pd.DataFrame({"on": ["1970-01-03", "1970-01-05"]})
    >>> there = Elsewhere(frame, [9000, 8000], ["sold", "sold"], ["", ""])
    >>> len(before(there, date="on", day=4.0)), before(there, date="on", day=2.0)
    (1, None)
    """
    if elsewhere is None:
        return None
    rows = np.flatnonzero(date_column(elsewhere.frame, name=date) < day)
    return elsewhere.take(rows) if len(rows) else None


def read_elsewhere(elsewhere: Elsewhere, *, roles: Roles) -> tuple[Table, Array]:
    """The inputs and prices of sales elsewhere.

    Returns
    -------
    A table whose words also hold `APART`, and prices in currency units, shape (n_elsewhere,).

    Raises
    ------
    BadInput
        As for the lot's own sales; or a row says no kind.

    Examples
    --------
    >>> there = Elsewhere(pd.DataFrame({"make": ["Tarn"]}), [9000], ["Sold"], [""])
    >>> table, price = read_elsewhere(there, roles=Roles(nested=("make",)))
    >>> str(table.words[KIND][0]), float(price[0])
    ('sold', 9000.0)
    """
    table = read(elsewhere.frame, roles=roles)
    price = price_column(elsewhere.price, size=table.size)
    kind, source = (_words(values, name=name, size=table.size) for name, values in _said(elsewhere))
    if (kind == "").any():
        row = elsewhere.frame.index[int(np.argmax(kind == ""))]
        raise BadInput(f"kind must be a word for every sale elsewhere, got none in row {row!r}", column="kind", row=row)
    nothing = np.full(table.size, "", dtype=object)
    group = table.words[roles.nested[0]] if roles.nested else nothing
    where = {ANYWHERE: np.full(table.size, ANYWHERE, dtype=object), KIND: kind, SOURCE: source, GROUP: group}
    return Table(table.size, table.numbers, table.words | where, table.low, table.high), price


def _said(elsewhere: Elsewhere) -> list[tuple[str, Any]]:
    return [("kind", elsewhere.kind), ("source", elsewhere.source)]


def _words(values: Any, *, name: str, size: int) -> Words:
    told = np.asarray(values, dtype=object)
    if told.shape != (size,):
        raise BadInput(f"{name} must have the shape ({size},), got {told.shape}", column=name)
    return word_column(pd.DataFrame({name: told}), name=name)
