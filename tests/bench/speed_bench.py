"""By hand: seconds and memory of a fit and of a band, by number of sales; random forest with CV+ beside it.

    pip install -r tests/reference/requirements.txt -r tests/bench/requirements.txt
    python -m tests.bench.speed_bench

Each number of sales runs in a process of its own, so that its peak memory is its own. A `full` column tells how far
the medians of the low-rank joint smooth lie from those of one with many more centres and columns.
"""

import argparse
import resource
import subprocess
import sys
import time
from collections.abc import Callable

import numpy as np
import pandas as pd
from threadpoolctl import threadpool_limits

from tests.bench.features import plain
from tests.bench.peers import PEERS
from tests.valuation.histories import drawn_lot
from valuation import PriceModel, together, vehicle_model

SIZES = (300, 3_000, 100_000)
PEER, PEER_MOST = "random forest", 3_000  # rows up to which the peer is run
FULL_CENTRES, FULL_COLUMNS, FULL_MOST = 1_500, 400, 3_000
NEW, ASKED = 60, 200


def seconds(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def one_band(model: PriceModel, *, inputs: pd.DataFrame) -> float:
    """Median wall time of the band of one vehicle, in milliseconds."""
    taken = []
    for number in range(ASKED):
        vehicle = inputs.iloc[[number % len(inputs)]]
        start = time.perf_counter()
        model.band(vehicle)
        taken.append(1000 * (time.perf_counter() - start))
    return float(np.median(taken))


def measure(sales: int) -> None:
    lot = drawn_lot(sales + NEW, seed=1)
    past, new, known = lot.inputs.iloc[:sales], lot.inputs.iloc[sales:], lot.price[:sales]
    model = vehicle_model()
    fit = seconds(lambda: model.fit(past, known))
    told = [f"{sales} sales: fit {fit:.1f} s, one band {one_band(model, inputs=new):.1f} ms"]
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    told.append(f"peak {peak:.0f} MB")
    if sales <= PEER_MOST:
        columns = plain(lot.inputs, model=model, logs=("mileage",))
        rows = columns.iloc[:sales], np.log(known), columns.iloc[sales:]
        forest = seconds(lambda: PEERS[PEER](*rows))
        told.append(f"{PEER} {forest:.1f} s, ratio {fit / forest:.2f}")
    if sales <= FULL_MOST:
        together.MOST_CENTRES, together.MOST_COLUMNS = FULL_CENTRES, FULL_COLUMNS
        full = vehicle_model().fit(past, known).predict(new)
        apart = np.abs(np.log(full / model.predict(new)))
        told.append(f"full smooth: {100 * np.median(apart):.2f} % apart (median), {100 * apart.max():.2f} % at most")
    print(", ".join(told), flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sales", type=int, help="only this number, in this process")
    asked = parser.parse_args()
    if asked.sales:
        with threadpool_limits(limits=1):
            measure(asked.sales)
        return
    for sales in SIZES:
        subprocess.run([sys.executable, "-m", "tests.bench.speed_bench", "--sales", str(sales)], check=True)


if __name__ == "__main__":
    main()
