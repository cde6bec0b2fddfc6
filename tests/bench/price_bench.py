"""By hand: the price model beside the usual ways on the same splits of open data and of an invented lot.

    pip install -r tests/reference/requirements.txt -r tests/bench/requirements.txt
    python -m tests.bench.price_bench --splits 20 --keep results.jsonl
    python -m tests.bench.price_bench --table results.jsonl

What stands in the file is not computed again. `--only ames,lot`, `--sizes 40,80` and `--peers PriceModel,oracle` pick
cells and methods; `--again PriceModel` forgets a method first; `--ours "PriceModel, other folds"` keeps our lines under
another name, and `--table` with the same name compares those.
"""

import argparse
import time
import warnings
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from sklearn.exceptions import ConvergenceWarning
from threadpoolctl import threadpool_limits

from tests.bench.cells import KINDS, SIZES, Case, Cell, Given, Logs, case, cells, oracle, ours, splits_of
from tests.bench.ledger import Line, append, forget, read
from tests.bench.peers import PEERS
from tests.bench.table import ORACLE, OURS, whole_table
from valuation import NotConverged, interval_score, ratio_study

FIRST_SPLITS = 8  # all cells and methods get these before any gets more


def words(text: str) -> tuple[str, ...]:
    return tuple(word.strip() for word in text.split(","))


def numbers(text: str) -> tuple[int, ...]:
    return tuple(int(word) for word in words(text))


def asked() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--splits", type=int, default=20)
    parser.add_argument("--only", type=words, default=tuple(KINDS), help=", ".join(KINDS))
    parser.add_argument("--sizes", type=numbers, default=SIZES)
    parser.add_argument("--peers", type=words, default=(OURS, ORACLE, *PEERS), help=", ".join((OURS, ORACLE, *PEERS)))
    parser.add_argument("--keep", type=Path, help="file of results to add to")
    parser.add_argument("--again", type=words, default=(), help="methods to forget in the file of results")
    parser.add_argument("--ours", type=str, default=OURS, help="name under which our lines are kept and compared")
    parser.add_argument("--table", type=Path, help="print the table of a file of results, compute nothing")
    found = parser.parse_args()
    for name, known in (("only", KINDS), ("peers", (OURS, ORACLE, *PEERS))):
        if unknown := set(getattr(found, name)) - set(known):
            parser.error(f"--{name} must be of {', '.join(known)}, got {', '.join(sorted(unknown))}")
    return found


def answer(case: Case, *, method: str) -> tuple[Logs, Given]:
    """Low, likely and high in logs, and which rows were given a band."""
    if method == OURS:
        return ours(case)
    history, all_rows = case.history, np.ones(len(case.new), dtype=bool)
    if method == ORACLE:
        if history.median is None:
            raise ValueError("the oracle needs a history whose truth is known")
        return oracle(history.median[case.new]), all_rows
    past, new = history.plain.iloc[case.past], history.plain.iloc[case.new]
    return PEERS[method](past, np.log(history.price[case.past]), new), all_rows


def measure(cell: Cell, *, split: int, method: str, title: str) -> Line:
    """Run one method on one split."""
    one = case(cell, split=split)
    start = time.process_time()
    (low, likely, high), given = answer(one, method=method)
    seconds = time.process_time() - start
    price = one.history.price[one.new]
    study, actual = ratio_study(np.exp(likely), price), np.log(price)
    return Line(
        name=cell.name,
        sales=cell.sales,
        split=split,
        method=title,
        mdape=100 * study.median_error,
        ppe10=study.within_10,
        cod=study.cod,
        prd=study.prd,
        coverage=float(np.mean(((low <= actual) & (actual <= high))[given])) if given.any() else float("nan"),
        score=float(interval_score(actual, low=low, high=high).mean()),
        answered=float(given.mean()),
        seconds=seconds,
    )


def plan(options: argparse.Namespace) -> Iterator[tuple[Cell, int, str]]:
    """What is to be computed, cheap and strong methods first, few splits of everything before many of anything."""
    for start, end in ((0, FIRST_SPLITS), (FIRST_SPLITS, options.splits)):
        for method in options.peers:
            for cell in cells(options.only, sizes=options.sizes):
                if method == ORACLE and cell.name != "lot":
                    continue
                for split in splits_of(cell.name, most=min(end, options.splits)):
                    if split >= start:
                        yield cell, split, method


def run(options: argparse.Namespace) -> list[Line]:
    """Compute what the file lacks; every line is kept as soon as it is known."""
    lines = read(options.keep) if options.keep else []
    known = {line.key for line in lines}
    for cell, split, method in plan(options):
        title = options.ours if method == OURS else method
        if (cell.name, cell.sales, split, title) in known:
            continue
        try:
            line = measure(cell, split=split, method=method, title=title)
        except NotConverged as error:  # the split is then missing from the count in the table
            print(f"{cell.name} {cell.sales} {split} {title}: NO FIT: {error}", flush=True)
            continue
        lines.append(line)
        if options.keep:
            append(options.keep, line=line)
        print(f"{line.name} {line.sales} {line.split} {line.method}: {line.mdape:.2f} {line.score:.3f}", flush=True)
    return lines


def main() -> None:
    options = asked()
    if options.table:
        print(whole_table(read(options.table), ours=options.ours))
        return
    if options.keep and options.again:
        forget(options.keep, methods=options.again)
    warnings.simplefilter("ignore", ConvergenceWarning)  # the peers' own searches, not ours
    with threadpool_limits(limits=1):
        lines = run(options)
    print(whole_table(lines, ours=options.ours))


if __name__ == "__main__":
    main()
