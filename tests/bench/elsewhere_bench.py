"""By hand: what sales elsewhere do to the band of the lot's own next sales, on invented histories with the truth known.

    python -m tests.bench.elsewhere_bench --histories 20 --processes 1 --keep elsewhere.jsonl

Each history has 30, 80 or 200 own sales of six years, 500 sales elsewhere of the same years, and 40 own sales of the
half year after, which are predicted (`valuation.simulate_elsewhere`). Cases: none; unbiased; 20 % more or less paid
elsewhere; half of them high bids that the owner did not accept; 20 % more and half bids; prices dealt out anew among
the rows, so that they mean nothing. Figures are means over the histories ± one standard error; *against none* is the
paired difference of the interval score. What stands in the file is not computed again: a file per state of the model.
"""

import argparse
import json
import multiprocessing
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np
from threadpoolctl import threadpool_limits

from valuation import vehicle_model
from valuation.elsewhere import Elsewhere
from valuation.metrics import interval_score
from valuation.reading import Array
from valuation.simulate_elsewhere import TwoMarkets, simulate_elsewhere

FIRST_SEED = 40_000  # no history of the tests, nor one the rule was chosen on
ENDING, COUNT = date(2030, 6, 30), 500
OWN = (30, 80, 200)
NONE, UNRELATED = "none", "no meaning"
CASES: dict[str, tuple[float, float]] = {  # percent paid more, share of bids
    NONE: (0.0, 0.0), "unbiased": (0.0, 0.0), "+20 %": (20.0, 0.0), "-20 %": (-20.0, 0.0), "half bids": (0.0, 0.5),
    "+20 %, half bids": (20.0, 0.5), UNRELATED: (0.0, 0.0),
}  # fmt: skip


@dataclass(frozen=True)
class Trial:
    """One history and case: median error in percent, mean interval score, shares inside and with a band, in percent."""

    case: str
    own: int
    seed: int
    error: float
    score: float
    inside: float
    banded: float
    used: bool
    offset: float  # of sold ones, in percent; NaN without
    weight: float


def trial(asked: tuple[str, int, int]) -> Trial:
    """Fit and predict one history: case, own sales, seed."""
    case, own, seed = asked
    bias, bids = CASES[case]
    drawn = simulate_elsewhere(own, count=COUNT, ending_on=ENDING, bias_percent=bias, bid_share=bids, seed=seed)
    with threadpool_limits(limits=1):
        return _tried(drawn, elsewhere=_elsewhere(drawn, case=case, seed=seed), asked=asked)


def _elsewhere(drawn: TwoMarkets, *, case: str, seed: int) -> Elsewhere | None:
    if case == UNRELATED:
        return replace(drawn.elsewhere, price=np.random.default_rng(seed).permutation(drawn.elsewhere.price))
    return None if case == NONE else drawn.elsewhere


def _tried(drawn: TwoMarkets, *, elsewhere: Elsewhere | None, asked: tuple[str, int, int]) -> Trial:
    model = vehicle_model().fit(drawn.inputs, drawn.price, elsewhere=elsewhere)
    band = model.band(drawn.later)
    told = band["low"].notna().to_numpy()
    logs = np.log(band[told])
    actual = np.log(drawn.later_price[told])
    inside = (logs["low"] <= actual) & (actual <= logs["high"])
    score = interval_score(actual, low=logs["low"], high=logs["high"], coverage=0.80)
    error = np.median(np.abs(model.predict(drawn.later) / drawn.later_price - 1))
    market = model.elsewhere_
    kinds = {} if market is None else {kind.name: kind for kind in market.kinds}
    sold = kinds.get("sold")
    return Trial(
        *asked, 100 * float(error), float(score.mean()), 100 * float(inside.mean()), 100 * float(told.mean()),
        market is not None and market.used, 100 * float(np.expm1(sold.offset)) if sold else float("nan"),
        sold.weight if sold else float("nan"),
    )  # fmt: skip


def read(path: Path | None) -> list[Trial]:
    if path is None or not path.exists():
        return []
    return [Trial(**json.loads(text)) for text in path.read_text().splitlines()]


def run(*, histories: int, processes: int, keep: Path | None) -> list[Trial]:
    kept = read(keep)
    known = {(one.case, one.own, one.seed) for one in kept}
    asked = [(case, own, seed) for seed in range(FIRST_SEED, FIRST_SEED + histories) for own in OWN for case in CASES]
    with multiprocessing.get_context("spawn").Pool(processes) as pool:
        for one in pool.imap(trial, [each for each in asked if each not in known]):
            kept.append(one)
            if keep is not None:
                with keep.open("a") as file:
                    file.write(json.dumps(asdict(one)) + "\n")
    return kept


def table(trials: list[Trial]) -> Iterator[str]:
    """A Markdown table, a line for each case."""
    yield "| own | elsewhere | error % | score | against none | covered % | with a band % | used | offset %, weight |"
    yield "|---|---|---|---|---|---|---|---|---|"
    for own in OWN:
        alone = {one.seed: one.score for one in trials if (one.own, one.case) == (own, NONE)}
        for case in CASES:
            rows = [one for one in trials if (one.own, one.case) == (own, case) and one.seed in alone]
            if len(rows) > 1:
                yield _line(rows, alone=alone)


def _line(rows: list[Trial], *, alone: dict[int, float]) -> str:
    error, score, inside = (np.array([getattr(one, name) for one in rows]) for name in ("error", "score", "inside"))
    apart = score - np.array([alone[one.seed] for one in rows])
    banded, used = np.mean([one.banded for one in rows]), sum(one.used for one in rows)
    with_it = rows[0].case != NONE
    learned = f"{np.mean([one.offset for one in rows]):+.1f}, {np.mean([one.weight for one in rows]):.2f}"
    cells = [
        str(rows[0].own), rows[0].case, _said(error, places=1), _said(score, places=3),
        _said(apart, places=3) if with_it else "–", _said(inside, places=1), f"{banded:.1f}",
        f"{used} of {len(rows)}" if with_it else "–", learned if with_it else "–",
    ]  # fmt: skip
    return f"| {' | '.join(cells)} |"


def _said(values: Array, *, places: int) -> str:
    return f"{values.mean():.{places}f} ± {values.std(ddof=1) / np.sqrt(len(values)):.{places}f}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--histories", type=int, default=20)
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--keep", type=Path, help="file of results to add to")
    asked = parser.parse_args()
    print("\n".join(table(run(histories=asked.histories, processes=asked.processes, keep=asked.keep))))


if __name__ == "__main__":
    main()
