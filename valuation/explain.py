"""A log price split into money that adds up."""

import numpy as np

from valuation.reading import Array


def split(effects: Array, *, base: Array, total: Array) -> Array:
    """Split whole minor units among effects on a logarithmic scale, so that the parts add up exactly.

    Parameters
    ----------
    effects : effect of each part on log price, shape (rows, parts)
    base : log of the price of a typical sale in minor units, shape (rows,)
    total : price in whole minor units (cents), shape (rows,)

    Returns
    -------
    Whole minor units, shape (rows, 1 + parts): the typical sale first. Each row adds up to `total`.

    Notes
    -----
    part = effect × L with L = (P - P0) / ln(P / P0), the logarithmic mean of P = exp(base + sum of effects)
    and P0 = exp(base), and L = P where they are equal. Rounded by largest remainder.
    The split is own derivation: it treats all parts alike, whatever their order.

    Examples
    --------
    >>> split(np.array([[0.20, 0.10, -0.05]]), base=np.log([2e6]), total=np.array([2568051.0])).tolist()
    [[2000000.0, 454441.0, 227220.0, -113610.0]]
    """
    height = effects.sum(axis=1)
    start = np.exp(base)
    unit = start * np.expm1(height) / np.where(height == 0, 1.0, height)
    unit = np.where(height == 0, start, unit)
    exact = np.column_stack([start, effects * unit[:, None]])
    return largest_remainder(exact * (total / exact.sum(axis=1))[:, None], total=total)


def largest_remainder(exact: Array, *, total: Array) -> Array:
    """Round each row to whole numbers that add up to its total.

    Parameters
    ----------
    exact : shape (rows, parts); each row adds up to its total within one half
    total : whole numbers, shape (rows,)

    Notes
    -----
    All are rounded down, then those with the largest remainders are raised; of equal remainders the first.

    Examples
    --------
    >>> largest_remainder(np.array([[0.5, 0.5, -1.3]]), total=np.array([0.0])).tolist()
    [[1.0, 0.0, -1.0]]
    """
    whole = np.floor(exact)
    short = (total - whole.sum(axis=1)).astype(np.int64)
    order = np.argsort(whole - exact, axis=1, kind="stable")
    places = np.empty_like(order)
    np.put_along_axis(places, order, np.arange(exact.shape[1])[None, :].repeat(len(exact), axis=0), axis=1)
    out: Array = whole + (places < short[:, None])
    return out
