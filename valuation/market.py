"""What a fit learned of sales elsewhere: how far each kind stands apart from the lot's own, and how much it counts."""

from dataclasses import dataclass

import numpy as np

from valuation.fitting import Additive, History


@dataclass(frozen=True)
class Kind:
    """One kind of sale elsewhere.

    `offset` is by how much its log prices stand above those of the lot's own sales, on average over its rows, `sd` how
    unsure that is; `weight` is how much one of them counts, the lot's own counting 1.
    """

    name: str
    count: int
    offset: float
    sd: float
    weight: float


@dataclass(frozen=True)
class Market:
    """All sales elsewhere that were given: `used`, or left out.

    `gain` is the log probability of one of the lot's own prices told with them less that without, on average over sales
    held out; `alone_sd` is the median predictive standard deviation without them. Both are NaN where nobody asked.
    """

    used: bool
    count: int
    gain: float
    alone_sd: float
    kinds: tuple[Kind, ...]


def kinds_of(history: History, *, model: Additive) -> tuple[Kind, ...]:
    """What a fit to the lot's own sales and those elsewhere says of each kind.

    Notes
    -----
    offset = m w, sd² = m C m', m the mean over the kind's rows of the columns that sales elsewhere alone have, w and C
    the mean and covariance of the weights.
    """
    apart = history.design.apart_columns
    weights, covariance = model.weights[apart], model.covariance[np.ix_(apart, apart)]
    total = np.zeros((len(history.kinds), len(apart)))
    for rows, piece in history.pieces():
        for number in range(len(history.kinds)):
            total[number] += piece.matrix[history.kind[rows] == number][:, apart].sum(axis=0)
    found = []
    for number, name in enumerate(history.kinds):
        count = int((history.kind == number).sum())
        mean = total[number] / count
        sd = float(np.sqrt(max(0.0, float(mean @ covariance @ mean))))
        found.append(Kind(name, count, float(mean @ weights), sd, float(1 / model.ratios[number])))
    return tuple(found)
