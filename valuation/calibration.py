"""How far a band must reach: errors of sales that were not known, in folds, whole groups, and ahead of time."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from valuation.bands import Hashes, Tails, folds, late_factor, shares, tails, word_hashes
from valuation.fitting import Additive, History
from valuation.reading import Array
from valuation.spread import Spread, learn_spread

ROWS = "rows"  # the folds that hold out single sales
BLOCKS, BLOCKS_TO_ALL = 6, 20  # the last six twentieths of the sales are told ahead of time, one after the other
LUCK = 0.05  # about one standard deviation of the late factor where nothing has changed (some 60 sales of late)
LEAST_BEFORE = 40  # sales before such a block: fewer say more about few sales than about time
Fit = Callable[[Array], Additive]  # from `used`, 1 or 0 per sale
Index = NDArray[np.int64]


@dataclass(frozen=True)
class Calibration:
    """Reach of the band by what was held out, and what it is multiplied with.

    `scores` are the out-of-sample errors of single sales in predictive standard deviations, in the order of the
    history; `spread` is none where all vehicles are equally sure; `lately` is at least 1.
    """

    reach: dict[str, Tails]
    scores: Array
    spread: Spread | None
    lately: float
    typical_sd: float


def calibrate(history: History, *, fit: Fit, hashes: Hashes, coverage: float, count: int) -> Calibration | None:
    """Make the errors and learn the reaches.

    Parameters
    ----------
    fit : fits everything anew to some of the rows
    hashes : of the rows' content, shape (n_sales,)
    count : number of folds

    Returns
    -------
    None where all sales are alike in their inputs: nothing can be held out that was not seen.

    Notes
    -----
    Single sales are dealt to folds by their content. For a make (or model) never seen whole makes are held out, and
    each make counts once however many sales it has: the next one is drawn from makes, not from sales. The sales
    of late are told from those before them; where they miss by more than is usual, all bands are widened alike.
    """
    fold = folds(hashes, count=count)
    if fold.max() == 0:
        return None
    scores, sd = _held_out(history, fit=fit, fold=fold)
    spread = learn_spread(history, scores=scores)
    factor = _factors(history, spread=spread)
    reach = {ROWS: tails(scores / factor, coverage=coverage)}
    for name in history.design.roles.nested:
        groups = word_hashes(history.table.words[name], otherwise=hashes)
        fold = folds(groups, count=count)
        if fold.max() > 0:
            apart, _ = _held_out(history, fit=fit, fold=fold)
            reach[name] = tails(apart / factor, coverage=coverage, weights=shares(groups))
    found = {name: tail for name, tail in reach.items() if tail is not None}
    ahead = _ahead(history, fit=fit)
    # A lucky stretch is no reason for a narrower band, nor a slightly unlucky one for a wider.
    lately = max(1.0, late_factor(ahead, usual=scores) - LUCK)
    return Calibration(found, scores, spread, lately, float(np.median(sd)))


def _held_out(history: History, *, fit: Fit, fold: Index) -> tuple[Array, Array]:
    """Errors of every sale in predictive standard deviations, and these, each from a fit without its fold."""
    mean, variance = np.full(len(fold), np.nan), np.full(len(fold), np.nan)
    for number in range(int(fold.max()) + 1):
        held = fold == number
        rows = np.flatnonzero(held).astype(np.int64)
        mean[held], variance[held] = history.predict_some(fit(np.where(held, 0.0, 1.0)), rows=rows)
    sd = np.sqrt(variance)
    return (history.log_price - mean) / sd, sd


def _factors(history: History, *, spread: Spread | None) -> Array:
    if spread is None:
        return np.ones(history.table.size)
    return np.concatenate([spread.factor(piece) for _, piece in history.pieces()])


def _ahead(history: History, *, fit: Fit) -> Array:
    """Errors of the last sales, in order of time, each told by a fit to the sales of days before its block."""
    date = history.design.roles.date
    if date is None or date not in {term.name for term in history.design.numbers}:
        return np.empty(0)
    days = history.table.numbers[date]
    known = np.flatnonzero(~np.isnan(days)).astype(np.int64)
    order = known[np.argsort(days[known], kind="stable")]
    size = max(1, len(order) // BLOCKS_TO_ALL)
    found = [np.empty(0)]
    for start in range(max(0, len(order) - BLOCKS * size), len(order), size):
        block = order[start : start + size]
        before = days < days[block[0]]
        if before.sum() >= LEAST_BEFORE:
            mean, variance = history.predict_some(fit(before.astype(np.float64)), rows=block)
            found.append((history.log_price[block] - mean) / np.sqrt(variance))
    return np.concatenate(found)
