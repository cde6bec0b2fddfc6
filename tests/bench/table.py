"""The arithmetic of the price bench: means over splits, and ratios to the best peer, to the GP and to the oracle."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from tests.bench.cells import KINDS, Cell
from tests.bench.ledger import FIGURES, Line
from valuation.reading import Array

OURS, ORACLE, GP = "PriceModel", "oracle", "GaussianProcess"
WORSE = 1.05  # a cell above this by more than two standard errors is marked
Found = dict[Cell, dict[str, dict[int, Line]]]


@dataclass(frozen=True)
class Ratio:
    """Mean figure of one method over that of another, on the `splits` that both have."""

    to: str
    value: float
    error: float
    splits: int

    def __str__(self) -> str:
        return f"{self.value:.3f} ± {self.error:.3f}"


def sort(lines: Iterable[Line]) -> Found:
    """Lines by cell, method and split; cells in the order of the sets, then of sizes."""
    places = list(KINDS)
    found: Found = {}
    for line in sorted(lines, key=lambda line: (places.index(line.name), line.sales, line.split)):
        found.setdefault(Cell(line.name, line.sales), {}).setdefault(line.method, {})[line.split] = line
    return found


def mean(splits: dict[int, Line], *, figure: str) -> float:
    """Mean over splits; a coverage of no band at all counts not."""
    values = np.array([getattr(line, figure) for line in splits.values()])
    return float(values[~np.isnan(values)].mean()) if not np.isnan(values).all() else float("nan")


def ratio(ours: dict[int, Line], *, theirs: dict[int, Line], figure: str) -> Ratio | None:
    """The mean figure of ours over that of theirs; none below two splits in common.

    The error is the standard error of the mean paired difference, divided by the mean of theirs.
    """
    common = sorted(ours.keys() & theirs.keys())
    if len(common) < 2:
        return None
    a, b = (np.array([getattr(lines[split], figure) for split in common]) for lines in (ours, theirs))
    error = float(np.std(a - b, ddof=1)) / float(np.sqrt(len(common)))
    return Ratio(theirs[common[0]].method, float(a.mean() / b.mean()), error / float(b.mean()), len(common))


def to_best(methods: dict[str, dict[int, Line]], *, ours: str, figure: str) -> Ratio | None:
    """The ratio to the peer that does best against ours in this cell: the greatest of all."""
    found = [
        ratio(methods[ours], theirs=lines, figure=figure)
        for method, lines in methods.items()
        if method != ORACLE and not method.startswith(OURS) and method != ours
    ]
    return max((one for one in found if one is not None), key=lambda one: one.value, default=None)


def to_one(methods: dict[str, dict[int, Line]], *, ours: str, other: str, figure: str) -> Ratio | None:
    return ratio(methods[ours], theirs=methods[other], figure=figure) if other in methods else None


def geometric_mean(values: Array) -> float:
    return float(np.exp(np.log(values).mean()))


def whole_table(lines: Iterable[Line], *, ours: str = OURS) -> str:
    """All figures, then the ratios by cell, then their geometric means, as tables of text."""
    found = sort(lines)
    parts = ["Means over splits", *_figures(found)]
    if any(ours in methods for methods in found.values()):
        parts += ["", f"{ours} by cell (! above {WORSE} by more than two standard errors)", *_ratios(found, ours=ours)]
        parts += ["", "Geometric means over cells", *_means(found, ours=ours)]
    return "\n".join(parts)


def _row(*words: object) -> str:
    return f"| {' | '.join(str(word) for word in words)} |"


def _head(*words: str) -> list[str]:
    return [_row(*words), _row(*("---" for _ in words))]


def _figures(found: Found) -> Iterator[str]:
    yield from _head(
        "set", "n", "method", "MdAPE %", "PPE10", "COD", "PRD", "coverage", "score", "given a band", "seconds", "splits"
    )
    formats = dict(zip(FIGURES, (".2f", ".3f", ".2f", ".3f", ".3f", ".3f", ".3f", ".2f"), strict=True))
    for cell, methods in found.items():
        for method in sorted(methods, key=lambda name: mean(methods[name], figure="mdape")):
            told = [f"{mean(methods[method], figure=figure):{form}}" for figure, form in formats.items()]
            yield _row(cell.name, cell.sales, method, *told, len(methods[method]))


def _ratios(found: Found, *, ours: str) -> Iterator[str]:
    yield from _head(
        *("set", "n", "MdAPE: best peer", "ratio", "to GP", "score: best peer", "ratio", "to GP", "to the oracle"),
        *("coverage", "PRD", "splits"),
    )
    for cell, methods in found.items():
        if ours not in methods:
            continue
        told: list[str] = []
        for figure in ("mdape", "score"):
            best = to_best(methods, ours=ours, figure=figure)
            gp = to_one(methods, ours=ours, other=GP, figure=figure)
            told += [best.to if best else "–", _marked(best), _marked(gp)]
        oracle = to_one(methods, ours=ours, other=ORACLE, figure="score")
        coverage, prd = (f"{mean(methods[ours], figure=figure):.3f}" for figure in ("coverage", "prd"))
        yield _row(cell.name, cell.sales, *told, oracle or "–", coverage, prd, len(methods[ours]))


def _marked(one: Ratio | None) -> str:
    if one is None:
        return "–"
    return f"{one} !" if one.value - 2 * one.error > WORSE else str(one)


def _means(found: Found, *, ours: str) -> Iterator[str]:
    yield from _head("cells", "count", "MdAPE to best", "MdAPE to GP", "score to best", "score to GP", "coverage")
    for title in (*dict.fromkeys(KINDS.values()), "all"):
        chosen = [m for cell, m in found.items() if ours in m and title in (KINDS[cell.name], "all")]
        if not chosen:
            continue
        told = []
        for figure in ("mdape", "score"):
            told.append(_geometric(to_best(methods, ours=ours, figure=figure) for methods in chosen))
            told.append(_geometric(to_one(methods, ours=ours, other=GP, figure=figure) for methods in chosen))
        coverage = np.nanmean([mean(methods[ours], figure="coverage") for methods in chosen])
        yield _row(title, len(chosen), *told, f"{coverage:.3f}")


def _geometric(ratios: Iterable[Ratio | None]) -> str:
    values = [one.value for one in ratios if one is not None]
    return f"{geometric_mean(np.array(values)):.3f}" if values else "–"
