"""How far a band must reach: errors of sales that were not known, in folds, whole groups, and ahead of time."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import t

from valuation.bands import USUAL_TAIL, Hashes, Tails, folds, late_factor, shares, tails, word_hashes
from valuation.fitting import Additive, History
from valuation.reading import Array
from valuation.spread import Spread, learn_spread

ROWS = "rows"  # the folds that hold out single sales
BLOCKS, BLOCKS_TO_ALL = 6, 20  # the last six twentieths of the sales are told ahead of time, one after the other
LUCK = 0.05  # about one standard deviation of the late factor where nothing has changed (some 60 sales of late)
LEAST_BEFORE = 40  # sales before such a block: fewer say more about few sales than about time
LEAST_SHARED = 5  # makes (or models) sold both here and elsewhere before anything is said of one sold elsewhere alone
Fit = Callable[[Array], Additive]  # from `used`, 1 or 0 per sale, the lot's own first
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


@dataclass(frozen=True)
class Errors:
    """Errors of single sales of the lot, each from a fit without its fold, in `sd`: predictive standard deviations."""

    scores: Array
    sd: Array

    @property
    def told(self) -> Array:
        """Log probability density of each log price, Student with `USUAL_TAIL` degrees of freedom."""
        out: Array = t(USUAL_TAIL).logpdf(self.scores) - np.log(self.sd)
        return out


def single_errors(history: History, *, fit: Fit, hashes: Hashes, count: int) -> Errors | None:
    """Hold out single sales of the lot; sales elsewhere are known throughout.

    Parameters
    ----------
    fit : fits everything anew to some of the rows
    hashes : of the content of the lot's own rows, shape (n_own,)
    count : number of folds

    Returns
    -------
    None where all sales are alike in their inputs: nothing can be held out that was not seen.
    """
    fold = folds(hashes, count=count)
    return None if fold.max() == 0 else _held_out(history, fit=fit, fold=fold)


def only_elsewhere(name: str) -> str:
    """The name of the errors for vehicles of a group that was sold elsewhere, never here."""
    return f"{name}, elsewhere"


def calibrate(
    history: History, *, errors: Errors, fit: Fit, hashes: Hashes, coverage: float, count: int
) -> Calibration:
    """Make the other errors and learn the reaches. Parameters as in `single_errors`, and what that found.

    Notes
    -----
    Single sales are dealt to folds by their content. For a make (or model) never seen whole makes are held out, and
    each make counts once however many sales it has: the next one is drawn from makes, not from sales. With sales
    elsewhere these are held out as well; for makes sold elsewhere alone they stay in. The sales
    of late are told from those before them; where they miss by more than is usual, all bands are widened alike.
    """
    scores = errors.scores
    spread = learn_spread(history.own, scores=scores)
    factor = _factors(history.own, spread=spread)
    reach = {ROWS: tails(scores / factor, coverage=coverage)}
    for name in history.design.roles.nested:
        groups = word_hashes(history.own.table.words[name], otherwise=hashes)
        fold = folds(groups, count=count)
        if fold.max() == 0:
            continue
        outside = _same_groups(history, name=name, fold=fold)
        apart = _held_out(history, fit=fit, fold=fold, outside=outside).scores / factor
        reach[name] = tails(apart, coverage=coverage, weights=shares(groups))
        shared = _shared(history, name=name)
        if shared.any():
            apart = _held_out(history, fit=fit, fold=fold).scores / factor
            reach[only_elsewhere(name)] = _by_groups(apart[shared], groups=groups[shared], coverage=coverage)
    found = {name: tail for name, tail in reach.items() if tail is not None}
    ahead = _ahead(history, fit=fit)
    # A lucky stretch is no reason for a narrower band, nor a slightly unlucky one for a wider.
    lately = max(1.0, late_factor(ahead, usual=scores) - LUCK)
    return Calibration(found, scores, spread, lately, float(np.median(errors.sd)))


def _held_out(history: History, *, fit: Fit, fold: Index, outside: Index | None = None) -> Errors:
    """Errors of every sale of the lot; `outside` are the folds with which sales elsewhere are held out, -1 for none."""
    mean, variance = np.full(len(fold), np.nan), np.full(len(fold), np.nan)
    known = np.full(history.table.size - len(fold), -1, dtype=np.int64) if outside is None else outside
    everywhere = np.concatenate([fold, known])
    for number in range(int(fold.max()) + 1):
        held = fold == number
        rows = np.flatnonzero(held).astype(np.int64)
        mean[held], variance[held] = history.predict_some(fit(np.where(everywhere == number, 0.0, 1.0)), rows=rows)
    sd = np.sqrt(variance)
    return Errors((history.own.log_price - mean) / sd, sd)


def _by_groups(scores: Array, *, groups: Hashes, coverage: float) -> Tails | None:
    """Each group counts once; where there are too few for that but several, each sale does.

    What sales elsewhere tell of a group is known here, so that errors within one hardly hang together.
    """
    weights = shares(groups)
    found = tails(scores, coverage=coverage, weights=weights)
    if found is None and weights.sum() > LEAST_SHARED - 0.5:
        return tails(scores, coverage=coverage)
    return found


def _same_groups(history: History, *, name: str, fold: Index) -> Index:
    """For each sale elsewhere the fold in which its group is held out, -1 where it was never sold here."""
    words = history.table.words[name]
    held = {word: int(number) for word, number in zip(words[: history.here], fold, strict=True) if word}
    return np.array([held.get(word, -1) for word in words[history.here :]], dtype=np.int64)


def _shared(history: History, *, name: str) -> NDArray[np.bool_]:
    """Which sales of the lot are of a group that was sold elsewhere too."""
    words = history.table.words[name]
    there = set(words[history.here :]) - {""}
    return np.array([word in there for word in words[: history.here]], dtype=bool)


def _factors(history: History, *, spread: Spread | None) -> Array:
    if spread is None:
        return np.ones(history.table.size)
    return np.concatenate([spread.factor(piece) for _, piece in history.pieces()])


def _ahead(history: History, *, fit: Fit) -> Array:
    """Errors of the last sales, in order of time, each told by a fit to the sales of days before its block."""
    date = history.design.roles.date
    if date is None or date not in {term.name for term in history.design.numbers}:
        return np.empty(0)
    everywhere = history.table.numbers[date]
    days = everywhere[: history.here]
    known = np.flatnonzero(~np.isnan(days)).astype(np.int64)
    order = known[np.argsort(days[known], kind="stable")]
    size = max(1, len(order) // BLOCKS_TO_ALL)
    found = [np.empty(0)]
    for start in range(max(0, len(order) - BLOCKS * size), len(order), size):
        block = order[start : start + size]
        before = everywhere < days[block[0]]
        if before[: history.here].sum() >= LEAST_BEFORE:
            mean, variance = history.predict_some(fit(before.astype(np.float64)), rows=block)
            found.append((history.log_price[block] - mean) / np.sqrt(variance))
    return np.concatenate(found)
