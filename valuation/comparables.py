"""The nearest past sales, each adjusted to the subject input by input: the grid of a sales comparison."""

from collections.abc import Hashable
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from valuation.bands import Hashes, row_hashes
from valuation.design import Expanded
from valuation.elsewhere import Elsewhere, read_elsewhere
from valuation.errors import BadInput, BadOption
from valuation.explain import largest_remainder
from valuation.model import PriceModel
from valuation.reading import Array, Table, price_column

SUBJECTS = 256  # vehicles that are held against the sales at once: bounds the memory of a batch
DIGITS = 1e9  # likeness is told to nine places, so that no order hangs on the last digit of a sum
NONE = np.iinfo(np.int64).max
Keys = NDArray[np.int64]
Index = NDArray[np.intp]


# What is read from inside the model: the only lines to change when the model does.


def _variances(model: PriceModel) -> Array:
    """Prior variance of each block's weights; without shrinkage there is none, and all columns count alike."""
    blocks = model.additive_.strengths.blocks
    out: Array = np.where(np.isinf(blocks), 1.0, blocks)
    return out


def _column_variances(model: PriceModel) -> Array:
    """The same for each column; the base is common to all vehicles and tells nothing."""
    design = model.design_
    widths = [block.width for block in design.blocks]
    out = np.repeat(_variances(model), widths)
    out[0] = 0.0
    return out


def _variance(model: PriceModel, *, rows: Expanded) -> Array:
    """Prior variance of log price of each row, with what is not known of it."""
    doubt = rows.doubt(model.additive_.weights, variances=_variances(model))
    out: Array = rows.matrix**2 @ _column_variances(model) + doubt
    return out


def _covariance(model: PriceModel, *, rows: Expanded, others: Expanded) -> Array:
    """Prior covariance of log price between two sets of rows, shape (rows, others)."""
    out: Array = (rows.matrix * _column_variances(model)) @ others.matrix.T
    return out


def _effects(model: PriceModel, *, table: Table) -> Array:
    """Effect of each part on log price, shape (rows, parts), without the base."""
    parts = np.array(model.design_.parts)
    pieces = [np.empty((0, len(part_names(model))))]
    for _, rows in model.design_.pieces(table):
        weighted = rows.matrix * model.additive_.weights
        pieces.append(_by_part(weighted, parts=parts, names=part_names(model)))
    return np.concatenate(pieces)


def _by_part(weighted: Array, *, parts: NDArray[np.str_], names: tuple[str, ...]) -> Array:
    columns = [weighted[:, parts == name].sum(axis=1) for name in names]
    return np.column_stack(columns) if columns else np.empty((len(weighted), 0))


def part_names(model: PriceModel) -> tuple[str, ...]:
    """The inputs that a fitted model uses, in its order, without the base.

    Examples
    --------
    >>> part_names(PriceModel(nested=("make",), date=None).fit(pd.DataFrame({"make": ["Tarn"]}), [9000]))
    ('make',)
    """
    return tuple(dict.fromkeys(model.design_.parts))[1:]


# The rest asks the lines above and the model's public methods only.


@dataclass(frozen=True)
class Comparables:
    """The grid; see `nearest_sales` for its columns."""

    sales: pd.DataFrame
    adjustments: pd.DataFrame
    reconciled: pd.DataFrame


def nearest_sales(
    model: PriceModel,
    frame: pd.DataFrame,
    *,
    sales: pd.DataFrame,
    price: Any,
    elsewhere: Elsewhere | None = None,
    count: int = 6,
) -> Comparables:
    """The past sales most like each vehicle in the model's own sense, each adjusted toward it.

    Parameters
    ----------
    model : fitted
    frame : the subjects: one row per vehicle with the columns of every role
    sales : the sales to choose from, in the same columns; whichever rows are given count as past
    price : what they sold for, in currency units, shape (n_sales,), each at least one minor unit
    elsewhere : sales that were not the lot's own to choose from too, if the model was fitted with such; the index of
        their frame shares no label with that of `sales`. What they stand apart is one more adjustment, `elsewhere`
    count : how many to find for each subject, at least 1; fewer come where fewer are given

    Returns
    -------
    `sales`, one row per subject and rank (1 is the nearest): `sale` (its label in the index of `sales`),
    `likeness` (-1 to 1), `sale_price` and `adjusted_price` in currency units, `net` and `gross` adjustment in
    percent of the sale price.

    `adjustments`, on the same index: one column per input that the model uses, in currency units; minus where
    the sale was better. Summed as decimals of the minor unit, `sale_price` and these are `adjusted_price` exactly.

    `reconciled`, on the frame's index: `sales_found`; `reconciled`, the median of the adjusted prices weighted by
    likeness, in currency units; `likely`, as `predict` says; `apart`, the first over the second in percent less 100.
    NaN where no sale was found.

    Raises
    ------
    NotFitted
        The model is not fitted.
    BadInput
        A column is missing or cannot be read, a price is not positive, or a sale elsewhere has the label of one here.
    BadOption
        count is below 1, or there are sales elsewhere for a model that did not learn from any.

    Notes
    -----
    likeness = K(x, z) / sqrt((K(x, x) + d(x)) (K(z, z) + d(z))), K(x, z) = Σ s² x z over the columns of the
    model with s² the variance of a column's weight that the evidence chose, and d the variance from inputs
    that are missing or were never seen: the correlation of two log prices before any price is known. (After the
    prices are known the correlation is of what is left unsure, which says less about the vehicles: on two histories
    its sales needed 8 to 29 % more gross adjustment and came no closer to prices held out.)

    adjusted price = sale price × exp(Σ e(x) - e(z)), e the effect of each input on log price; a missing input
    counts with its expected effect. That is likely(x) × sale price / likely(z): a sale that the model learned from is
    no second opinion, it shows how far off the model was there. Each adjustment is (e(x) - e(z)) L with L the
    logarithmic mean of the sale price and the adjusted price; rounded by largest remainder.

    A row of `sales` with the label *and* the inputs of the subject is the subject itself and is left out: another
    row with equal inputs is a twin and stays. Of equally like sales the order follows their content.

    Source: the grid and the direction of adjustments are appraisal practice (USPAP, sales comparison); the
    likeness and the split are own derivation.

    Examples
    --------
    >>> sales = pd.DataFrame({"make": ["Merrow", "Tarn"] * 10, "miles": [float(m) for m in range(20)]})
    >>> price = [20_000 * (1 + (i % 2)) * 0.98 ** i for i in range(20)]
    >>> model = PriceModel(nested=("make",), smooth=("miles",), date=None).fit(sales, price)
    >>> subject = pd.DataFrame({"make": ["Tarn"], "miles": [8.6]}, index=["ours"])
    >>> grid = nearest_sales(model, subject, sales=sales, price=price, count=2)
    >>> grid.sales["sale"].tolist()
    [9, 7]
    >>> (grid.adjustments["miles"] > 0).tolist()
    [True, False]
    """
    if isinstance(count, bool) or not isinstance(count, int | np.integer) or count < 1:
        raise BadOption(f"count must be a whole number of at least 1, got {count!r}")
    here, there, prices = model._read(frame), model._read(sales), price_column(price, size=len(sales))
    if elsewhere is not None:
        others, paid_there = _elsewhere(model, elsewhere=elsewhere, labels=sales.index)
        there, prices = there.join(others), np.concatenate([prices, paid_there])
        sales = pd.DataFrame(index=sales.index.append(elsewhere.frame.index))  # what follows asks for labels alone
    paid = _whole(prices, decimals=model.decimals)
    order = _content_order(sales, hashes=row_hashes(there), paid=paid)
    own = _own_rows(frame, sales=sales, here=row_hashes(here), there=row_hashes(there))
    subject, sale, likeness = _nearest(model, here=here, there=there, order=order, own=own, count=int(count))
    return _grid(model, frame=frame, sales=sales, found=_Found(here, there, subject, sale, likeness, paid))


def _elsewhere(model: PriceModel, *, elsewhere: Elsewhere, labels: "pd.Index[Any]") -> tuple[Table, Array]:
    if model.elsewhere_ is None or not model.elsewhere_.used:
        raise BadOption("elsewhere needs a model that learned from sales elsewhere, got one that did not")
    shared = elsewhere.frame.index.intersection(labels)
    if len(shared):
        raise BadInput(f"a sale elsewhere must not have the label of a sale here, got {shared[0]!r} for both")
    return read_elsewhere(elsewhere, roles=model.design_.roles)


def adjust(effects: Array, *, sold: Array) -> Array:
    """Adjustments in whole minor units from the differences of effects on log price.

    Parameters
    ----------
    effects : effect of the subject less that of the sale, part by part, shape (rows, parts)
    sold : sale prices in whole minor units (cents), shape (rows,)

    Returns
    -------
    Whole minor units, shape (rows, parts): each row adds up to the adjusted price less the sale price.

    Notes
    -----
    adjusted = sold × exp(Σ effects), rounded half up; adjustment = effect × L, L the logarithmic mean of both (sold
    where they are equal), rounded by largest remainder. Source: own derivation, as `explain.split`.

    Examples
    --------
    >>> adjust(np.array([[0.20, 0.10, -0.05]]), sold=np.array([2e6])).tolist()
    [[454441.0, 227220.0, -113610.0]]
    """
    height = effects.sum(axis=1)
    rise = sold * np.expm1(height)
    unit = np.where(height == 0, sold, rise / np.where(height == 0, 1.0, height))
    return largest_remainder(effects * unit[:, None], total=np.floor(rise + 0.5))


def net_and_gross(adjustments: Array, *, sold: Array) -> tuple[Array, Array]:
    """How much was adjusted, in percent of the sale price: in sum, and without regard to sign.

    Parameters
    ----------
    adjustments : shape (rows, parts), in the unit of `sold`
    sold : sale prices, shape (rows,)

    Examples
    --------
    >>> net, gross = net_and_gross(np.array([[1260.0, -1500.0, 2400.0, -300.0]]), sold=np.array([42_000.0]))
    >>> round(float(net[0]), 2), round(float(gross[0]), 2)
    (4.43, 13.0)
    """
    return 100 * adjustments.sum(axis=1) / sold, 100 * np.abs(adjustments).sum(axis=1) / sold


def weighted_median(values: Array, *, weights: Array) -> float:
    """The value with half of the weight on each side; between two such values their mean.

    Parameters
    ----------
    values, weights : shape (n,), n at least 1; a weight below zero counts as zero, and all alike where none is above

    Examples
    --------
    >>> weighted_median(np.array([30.0, 10.0, 20.0]), weights=np.array([0.2, 0.9, 0.3]))
    10.0
    >>> weighted_median(np.array([30.0, 10.0]), weights=np.array([0.5, 0.5]))
    20.0
    """
    kept = np.maximum(weights, 0.0)
    kept = kept if kept.any() else np.ones_like(kept)
    order = np.argsort(values, kind="stable")
    below = np.cumsum(kept[order]) / kept.sum()
    even = np.isclose(below, 0.5, rtol=0, atol=1e-12)
    first = int(np.argmax((below >= 0.5) | even))
    if not even[first]:
        return float(values[order[first]])
    following = first + 1 + int(np.argmax(kept[order][first + 1 :] > 0))
    return float(values[order[first]] + values[order[following]]) / 2


@dataclass(frozen=True)
class _Found:
    """Pairs of a subject and a sale by place, subjects in order and the nearest first; `paid` in minor units."""

    here: Table
    there: Table
    subject: Index
    sale: Index
    likeness: Array
    paid: Array


def _whole(price: Array, *, decimals: int) -> Array:
    """Whole minor units, half up."""
    out: Array = np.floor(price * 10**decimals + 0.5)
    if (out < 1).any():
        raise BadInput(f"price must be at least one minor unit, got {price[out < 1][0]:g}", column="price")
    return out


def _content_order(sales: pd.DataFrame, *, hashes: Hashes, paid: Array) -> Index:
    """Place of each sale in an order that depends on what it is, not on where it stands."""
    labels = pd.util.hash_array(np.array([str(label) for label in sales.index], dtype=object))
    order = np.empty(len(sales), dtype=np.intp)
    order[np.lexsort((labels, paid, hashes))] = np.arange(len(sales))
    return order


def _own_rows(frame: pd.DataFrame, *, sales: pd.DataFrame, here: Hashes, there: Hashes) -> list[list[int]]:
    """Places in `sales` of each subject itself: the label and all inputs agree."""
    places: dict[Hashable, list[int]] = {}
    labels, sold = frame.index.to_flat_index(), sales.index.to_flat_index()
    for at in np.flatnonzero(sold.isin(labels)).tolist():
        places.setdefault(sold[at], []).append(at)
    return [[at for at in places.get(label, []) if there[at] == here[row]] for row, label in enumerate(labels)]


def _nearest(
    model: PriceModel, *, here: Table, there: Table, order: Index, own: list[list[int]], count: int
) -> tuple[Index, Index, Array]:
    """The pairs of subject and sale, and their likeness.

    Likeness and place in the order of content are packed into one whole number: the least are the nearest, no two
    are equal, and the sales can be gone through in pieces.
    """
    keys = [np.empty((0, count), dtype=np.int64)]
    for start in range(0, here.size, SUBJECTS):
        part = slice(start, start + SUBJECTS)
        subjects = model.design_.expand(here.take(part))
        spread = _variance(model, rows=subjects)
        best = np.full((len(spread), count), NONE, dtype=np.int64)
        for rows, others in model.design_.pieces(there):
            like = _covariance(model, rows=subjects, others=others)
            scale = np.sqrt(np.outer(spread, _variance(model, rows=others)))
            like = np.divide(like, scale, out=np.zeros_like(like), where=scale > 0)
            packed = -np.rint(like * DIGITS).astype(np.int64) * there.size + order[rows]
            _strike(packed, own=own[part], rows=rows)
            best = _least(np.hstack([best, packed]), count=count)
        keys.append(best)
    packed = np.concatenate(keys)
    subject, rank = np.nonzero(packed < NONE)
    likeness, place = np.divmod(packed[subject, rank], max(there.size, 1))
    return subject, np.argsort(order)[place], -likeness / DIGITS


def _strike(packed: Keys, *, own: list[list[int]], rows: slice) -> None:
    for row, places in enumerate(own):
        for at in places:
            if rows.start <= at < rows.stop:
                packed[row, at - rows.start] = NONE


def _least(packed: Keys, *, count: int) -> Keys:
    return np.sort(np.partition(packed, count - 1, axis=1)[:, :count], axis=1)


def _grid(model: PriceModel, *, frame: pd.DataFrame, sales: pd.DataFrame, found: _Found) -> Comparables:
    unit = 10**model.decimals
    chosen, at = np.unique(found.sale, return_inverse=True)
    apart = _effects(model, table=found.here)[found.subject] - _effects(model, table=found.there.take(chosen))[at]
    sold = found.paid[found.sale]
    money = adjust(apart, sold=sold)
    adjusted = sold + money.sum(axis=1)
    net, gross = net_and_gross(money, sold=sold)
    index = _index(frame, subject=found.subject)
    columns = {
        "sale": sales.index.to_flat_index().take(found.sale),
        "likeness": found.likeness,
        "sale_price": sold / unit,
        "adjusted_price": adjusted / unit,
        "net": net,
        "gross": gross,
    }
    return Comparables(
        pd.DataFrame(columns, index=index),
        pd.DataFrame(money / unit, columns=list(part_names(model)), index=index),
        _reconcile(model, frame=frame, found=found, adjusted=adjusted),
    )


def _index(frame: pd.DataFrame, *, subject: Index) -> pd.MultiIndex:
    """Subject and rank: the pairs of one subject stand together."""
    first = np.searchsorted(subject, subject)
    rank = np.arange(1, len(subject) + 1) - first
    return pd.MultiIndex.from_arrays([frame.index.to_flat_index().take(subject), rank], names=["subject", "rank"])


def _reconcile(model: PriceModel, *, frame: pd.DataFrame, found: _Found, adjusted: Array) -> pd.DataFrame:
    unit = 10**model.decimals
    ends = np.searchsorted(found.subject, np.arange(len(frame) + 1))
    middle = np.full(len(frame), np.nan)
    for row, (start, end) in enumerate(pairwise(ends)):
        if end > start:
            middle[row] = weighted_median(adjusted[start:end], weights=found.likeness[start:end])
    reconciled, likely = np.floor(middle + 0.5) / unit, model.predict(frame)
    columns = {
        "sales_found": np.diff(ends),
        "reconciled": reconciled,
        "likely": likely,
        "apart": 100 * (reconciled / likely - 1),
    }
    return pd.DataFrame(columns, index=frame.index)
