"""Errors are not equally large everywhere: by how much more or less sure each vehicle is than the model says."""

from dataclasses import dataclass

import numpy as np

from valuation.averaging import Chain, average
from valuation.design import TOGETHER, Block, Design, Expanded
from valuation.fitting import History
from valuation.reading import Array
from valuation.shrinkage import Moments, Prior, Strengths

LEAST = 80  # sales below which sizes of errors tell nothing about each other
SMALL = 0.05  # errors below this, in predictive standard deviations, count as this: a log of nearly nothing is noise
LOG_NOISE = 1.2  # variance of ln|z| for normal z is pi²/8
PRIOR_SHARE, PRIOR_WEIGHT = 0.002, 4.0  # strong: an equal spread is believed until the errors tell otherwise
CHAIN = Chain(draws=60, warm=10)


@dataclass(frozen=True)
class Spread:
    """A factor of the predictive standard deviation, exp(x w - centre); `weights` has the width of the design."""

    weights: Array
    centre: float

    def factor(self, rows: Expanded) -> Array:
        """Shape (rows,), positive."""
        out: Array = np.exp(np.einsum("ij,j->i", rows.matrix, self.weights) - self.centre)
        return out


def learn_spread(history: History, *, scores: Array) -> Spread | None:
    """Learn where errors are larger.

    Parameters
    ----------
    scores : out-of-sample errors in predictive standard deviations, shape (n_sales,)

    Returns
    -------
    None where there are too few sales. The mean of ln factor over the sales is 0.

    Notes
    -----
    ln|score| is regressed on the straight lines of the inputs and on the categories, each block shrunk by the
    evidence under a strong prior. No rising input takes part: better must never mean less sure.

    Source: own derivation; logs of absolute errors as in Davidian & Carroll 1987.
    """
    if len(scores) < LEAST:
        return None
    design = history.design
    columns, blocks = _straight(design)
    size = np.log(np.maximum(np.abs(scores), SMALL))
    size -= size.mean()
    gram, cross, total = np.zeros((len(columns), len(columns))), np.zeros(len(columns)), np.zeros(len(columns))
    for rows, piece in history.pieces():
        matrix = piece.matrix[:, columns]
        gram += matrix.T @ matrix
        cross += matrix.T @ size[rows]
        total += matrix.sum(axis=0)
    prior = Prior(Strengths(np.full(len(blocks), PRIOR_SHARE), LOG_NOISE), PRIOR_WEIGHT)
    moments = Moments(gram, cross, float(size @ size), len(size))
    found = average(moments, blocks=blocks, prior=prior, start=prior.centre, chain=CHAIN)
    weights = np.zeros(design.width)
    weights[columns] = found.weights
    return Spread(weights, float(total @ found.weights) / len(size))


def _straight(design: Design) -> tuple[list[int], tuple[Block, ...]]:
    """Columns of the base, of lines that may fall, of flags and categories; and their blocks laid side by side."""
    columns, blocks = [0], [Block("base", "base", 0, 1)]
    for block in design.blocks[1:]:
        rises = block.name in design.roles.rising  # freed ones too: one input, one rule
        if rises or block.kind == TOGETHER or block.kind.endswith(("bend", "gaps", "offset", "apart")):
            continue
        blocks.append(Block(block.kind, block.name, len(columns), block.width))
        columns.extend(range(block.start, block.start + block.width))
    return columns, tuple(blocks)
