"""By hand: how often the band of the vehicle model contains the next sale, on many invented histories.

    python -m tests.bench.coverage_bench --kind plain --histories 1000 --sales 60 --processes 2 --keep coverage.jsonl

plain: no wrong rows; wrong: 5 % of all prices are typed wrongly, the new one's among them; turn: no wrong rows, the
market falls by 15 % within half a year. For the first two each history has one new sale, so that the counts are
independent and the Clopper–Pearson interval holds. For turn the first 60 sales after the fall are predicted, with a
new fit after every 10 on all sales before: sales of one history hang together, so the interval is Student's, of the
shares of the histories. Histories that stand in the file are not computed again: a file per state of the model.
"""

import argparse
import json
import multiprocessing
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
from scipy.stats import t

from valuation import NotConverged, coverage, vehicle_model
from valuation.reading import Array
from valuation.simulate import as_inputs, simulate

NOMINAL = 0.80
FIRST_SEED = 20_000  # no history of the tests or of the price bench
ENDING, YEARS = date(2030, 6, 30), 6.0
WRONG_SHARES = {"plain": 0.0, "wrong": 0.05, "turn": 0.0}
FALL, TURNING_YEARS = float(np.log(0.85)), 0.5
AFTER, STEP = 60, 10
SPARE = 15  # sales drawn beyond those after the fall, since their number is a matter of chance
ALLOWED = (0.75, 0.85)  # after a turn


@dataclass(frozen=True)
class Trial:
    """One history: for each new sale, in order, whether it fell inside its band; None where no band was given.

    `failed` says why the model could not be fitted; then `inside` ends before that fit.
    """

    kind: str
    sales: int
    seed: int
    inside: tuple[bool | None, ...]
    failed: str = ""


@dataclass(frozen=True)
class Drawn:
    """Sold rows in order of date, of which those from `first` on are to be predicted."""

    inputs: pd.DataFrame
    price: Array
    first: int


def drawn(kind: str, *, sales: int, seed: int) -> Drawn:
    """A history with `sales` past sales; about so many where the market turns, which is set by the date."""
    count, turn, after = sales + 1, None, 0.0
    if kind == "turn":
        count = sales + AFTER + SPARE
        after = YEARS * (AFTER + SPARE) / count
        turn = (min(after + TURNING_YEARS, YEARS), FALL)
    lot = simulate(count, ending_on=ENDING, years=YEARS, seed=seed, wrong_share=WRONG_SHARES[kind], turn=turn)
    sold = lot.sales[lot.sales["result"] == "sold"].reset_index(drop=True)
    fallen = sold["ended_on"] > np.datetime64(ENDING) - np.timedelta64(round(after * 365.25), "D")
    first = int(np.argmax(fallen)) if kind == "turn" else count - 1
    return Drawn(as_inputs(sold), sold["price"].to_numpy(float), first)


def trial(asked: tuple[str, int, int]) -> Trial:
    """Fit and predict one history: kind, past sales, seed."""
    kind, sales, seed = asked
    history = drawn(kind, sales=sales, seed=seed)
    end = min(history.first + AFTER, len(history.price))
    inside: list[bool | None] = []
    for start in range(history.first, end, STEP):
        try:
            inside += _inside(history, start=start, end=min(start + STEP, end))
        except NotConverged as error:
            return Trial(kind, sales, seed, tuple(inside), str(error))
    return Trial(kind, sales, seed, tuple(inside))


def _inside(history: Drawn, *, start: int, end: int) -> list[bool | None]:
    model = vehicle_model(coverage=NOMINAL).fit(history.inputs.iloc[:start], history.price[:start])
    band = model.band(history.inputs.iloc[start:end])
    rows = zip(band["low"], band["high"], history.price[start:end], strict=True)
    return [None if np.isnan(low) else bool(low <= price <= high) for low, high, price in rows]


def read(path: Path | None) -> list[Trial]:
    if path is None or not path.exists():
        return []
    rows = [json.loads(text) for text in path.read_text().splitlines()]
    return [Trial(**{**row, "inside": tuple(row["inside"])}) for row in rows]


def run(kind: str, *, sales: int, histories: int, processes: int, keep: Path | None) -> list[Trial]:
    seeds = range(FIRST_SEED, FIRST_SEED + histories)
    kept = [one for one in read(keep) if (one.kind, one.sales) == (kind, sales) and one.seed in seeds]
    known = {one.seed for one in kept}
    missing = [(kind, sales, seed) for seed in seeds if seed not in known]
    with multiprocessing.get_context("spawn").Pool(processes) as pool:
        for one in pool.imap_unordered(trial, missing):
            kept.append(one)
            if keep is not None:
                with keep.open("a") as file:
                    file.write(json.dumps(asdict(one)) + "\n")
    return kept


def told(trials: list[Trial]) -> Iterator[str]:
    """The share inside with its interval, and whether that is as it should be."""
    inside = [one for history in trials for one in history.inside if one is not None]
    declined = sum(one is None for history in trials for one in history.inside)
    yield f"{trials[0].kind}, about {trials[0].sales} past sales: {len(trials)} histories, {len(inside)} bands"
    yield f"no band was given for {declined}"
    failed = [history for history in trials if history.failed]
    yield f"the fit failed in {len(failed)}"
    yield from (f"  seed {history.seed}: {history.failed}" for history in failed)
    yield from _of_turns(trials) if trials[0].kind == "turn" else _of_single_sales(inside)


def _of_single_sales(inside: list[bool]) -> Iterator[str]:
    hits = np.array(inside, dtype=float)
    found = coverage(hits, low=np.ones_like(hits), high=np.ones_like(hits))
    yield f"inside: {found.inside} of {found.count}, {found.share:.3f} ({found.low:.3f} to {found.high:.3f}, 95 %)"
    yield f"{NOMINAL} lies {'inside' if found.low <= NOMINAL <= found.high else 'OUTSIDE'} that interval"


def _of_turns(trials: list[Trial]) -> Iterator[str]:
    shares = np.array([_share(history.inside) for history in trials])
    shares = shares[~np.isnan(shares)]
    mean = float(shares.mean())
    reach = float(t(len(shares) - 1).ppf(0.975) * shares.std(ddof=1) / np.sqrt(len(shares)))
    yield f"inside: {mean:.3f} ({mean - reach:.3f} to {mean + reach:.3f}, 95 %, of {len(shares)} histories)"
    for start in range(0, AFTER, STEP):
        block = tuple(one for history in trials for one in history.inside[start : start + STEP])
        yield f"  sales {start + 1} to {start + STEP} after the fall: {_share(block):.3f}"
    low, high = ALLOWED
    yield f"the mean lies {'within' if low <= mean <= high else 'OUTSIDE'} {low} to {high}"


def _share(inside: tuple[bool | None, ...]) -> float:
    given = [one for one in inside if one is not None]
    return sum(given) / len(given) if given else float("nan")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--histories", type=int, default=1000)
    parser.add_argument("--sales", type=int, default=60, help="past sales of each history")
    parser.add_argument("--kind", choices=tuple(WRONG_SHARES), default="plain")
    parser.add_argument("--keep", type=Path, help="file of results to add to")
    parser.add_argument("--processes", type=int, default=1)
    asked = parser.parse_args()
    trials = run(asked.kind, sales=asked.sales, histories=asked.histories, processes=asked.processes, keep=asked.keep)
    print("\n".join(told(trials)))


if __name__ == "__main__":
    main()
