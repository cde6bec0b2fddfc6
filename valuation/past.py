"""Past sales in an order that depends on what they are, not on where they stood."""

import hashlib
from dataclasses import dataclass

import numpy as np

from valuation.bands import Hashes, row_hashes
from valuation.design import make_design
from valuation.fitting import History
from valuation.reading import Array, Roles, Table


@dataclass(frozen=True)
class Sales:
    """Inputs, prices in currency units and hashes of the inputs, in the order of hash and price."""

    table: Table
    prices: Array
    hashes: Hashes


def in_order(table: Table, prices: Array) -> Sales:
    """The same rows come back in the same order, whatever order they were in.

    Examples
    --------
    >>> table = Table(2, {"miles": np.array([5.0, 5.0])}, {})
    >>> in_order(table, np.array([30.0, 20.0])).prices.tolist()
    [20.0, 30.0]
    """
    hashes = row_hashes(table)
    order = np.lexsort((prices, hashes))
    return Sales(table.take(order), prices[order], hashes[order])


def fingerprint(own: Sales, *, others: Sales | None) -> str:
    """A hash of inputs and prices of all sales given, 64 hexadecimal digits."""
    content = [one.hashes.tobytes() + one.prices.tobytes() for one in (own, others) if one is not None]
    return hashlib.sha256(b"".join(content)).hexdigest()


def history_of(own: Sales, *, others: Sales | None, roles: Roles, bends: bool) -> History:
    """The lot's own sales, then those elsewhere, in the columns that are learnt from the inputs of both."""
    table = own.table if others is None else own.table.join(others.table)
    prices = own.prices if others is None else np.concatenate([own.prices, others.prices])
    design = make_design(table, roles=roles, bends=bends)
    return History(design, table=table, log_price=np.log(prices), here=own.table.size)
