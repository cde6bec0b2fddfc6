"""Do vehicles that were taken back unsold make the likely price better? Run by hand: python -m
tests.bench.withdrawn_bench

A vehicle that stood for weeks at an ask is worth less than one that sold there. By Bayes' rule (`valuation.unseen`)
each one taken back becomes a sale that never was: a price and a weight, such that the likely price would move as the
weeks say. Compared on an invented lot with known truth are the likely prices without them, with them, and with what
their asks tell too; errors are of log value, of fresh vehicles.
"""

import argparse
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from tests.bench.ask_bench import Lot, lot
from valuation import PriceModel, vehicle_model
from valuation.fitting import Additive, History, fit_rows
from valuation.reading import Array
from valuation.then import as_then
from valuation.time_to_sale import TimeToSale
from valuation.unseen import read_positions, unseen_of, weighed

NORMAL_80 = 1.2815515655446004


@dataclass(frozen=True)
class Never:
    """Sales that never were: log prices and weights, and which of the past they come from."""

    rows: Array
    log_price: Array
    weight: Array


class Weighted(PriceModel):  # type: ignore[misc]
    """Takes a weight from 0 to 1 for each sale in the column `weight`; one fit, no band."""

    def fit_weighted(self, frame: pd.DataFrame, price: Any, *, weight: Array) -> "Weighted":
        logs = np.log(np.asarray(price, dtype=np.float64))  # made unlike each other below: they tell the rows apart
        self._weight = {round(float(amount), 9): float(share) for amount, share in zip(logs, weight, strict=True)}
        self.fit_median(frame, price)
        return self

    def _fit_rows(self, history: History, *, used: Array, start: Additive | None = None) -> Additive:
        shares = np.array([self._weight[round(float(value), 9)] for value in history.log_price])
        return fit_rows(history, used=used * shares, heavy=True, shrunk=True, start=start)


def never_sold(past: pd.DataFrame, *, stays: pd.DataFrame, model: TimeToSale, noise: float, asked: bool) -> Never:
    taken = stays[stays["end"].eq("withdrawn") & stays["likely"].notna()]
    reach = np.exp(NORMAL_80 * model.sd_scale_ * taken["sd"])
    frame = taken.assign(low=taken["likely"] / reach, high=taken["likely"] * reach, on=taken["ended_on"])
    frame = frame.assign(best_offer=np.nan, followed=not asked)
    unseen = unseen_of(model, read_positions(model, frame, coverage=0.80))
    told = [unseen.told["weeks"], *([unseen.told["asked"]] if asked else [])]
    after = weighed(unseen.before, told=told)
    mean, mean_before = ((weights * unseen.part).sum(axis=1) for weights in (after, unseen.before))
    spread = (after * unseen.part**2).sum(axis=1) - mean**2
    before = (unseen.before * unseen.part**2).sum(axis=1) - mean_before**2
    gained = np.maximum(1 / spread - 1 / before, 1e-9)
    place = np.log(taken["likely"].to_numpy()) + (mean / spread - mean_before / before) / gained
    return Never(taken.index.to_numpy(), np.clip(place, np.log(500), np.log(5e6)), np.clip(noise * gained, 1e-4, 1.0))


def one(sales: int, *, knowing: float, seed: int, fresh: int = 600) -> dict[str, float]:
    here: Lot = lot(sales, fresh=fresh, knowing=knowing, seed=seed)
    past = here.past
    sold = past[past["end"].eq("sold")]
    then = as_then(vehicle_model(), past, on=past["listed_on"], sales=sold, price=sold["price"])
    stays = past.assign(likely=np.exp(then["median"]), sd=then["sd"])
    model = TimeToSale().fit(stays)
    plain = vehicle_model().fit_median(sold, sold["price"])
    found = {"without": _errors(plain.predict(here.fresh), here=here)}
    for name, asked in (("weeks", False), ("weeks and ask", True)):
        more = never_sold(past, stays=stays, model=model, noise=plain.additive_.strengths.noise, asked=asked)
        frame = pd.concat([sold, past.loc[more.rows]], ignore_index=True)
        price = np.concatenate([sold["price"].to_numpy(), np.exp(more.log_price)]) * (1 + 1e-7 * np.arange(len(frame)))
        weight = np.concatenate([np.ones(len(sold)), more.weight])
        weighted = Weighted(**plain.get_params()).fit_weighted(frame, price, weight=weight)
        found[name] = _errors(weighted.predict(here.fresh), here=here)
    return {f"{name} {figure}": value for name, figures in found.items() for figure, value in figures.items()}


def _errors(likely: Array, *, here: Lot) -> dict[str, float]:
    off = np.log(likely) - here.value
    unsold = here.fresh["end"].ne("sold").to_numpy()
    sizes = {"all": off, "sold": off[~unsold], "unsold": off[unsold]}
    return {**{name: float(np.abs(some).mean()) for name, some in sizes.items()}, "bias": float(off.mean())}


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--sales", type=int, nargs="+", default=[100, 200])
    parser.add_argument("--seeds", type=int, default=6)
    given = parser.parse_args()
    for knowing in (0.0, 1.0):
        for count in given.sales:
            rows = pd.DataFrame([one(count, knowing=knowing, seed=seed) for seed in range(1, given.seeds + 1)])
            print(f"past {count}, knowing {knowing:g}, {given.seeds} lots")
            for name in ("without", "weeks", "weeks and ask"):
                gap = rows[f"{name} all"] - rows["without all"]
                figures = ", ".join(
                    f"{of} {rows[f'{name} {of}'].mean():.4f}" for of in ("all", "sold", "unsold", "bias")
                )
                doubt = gap.std(ddof=1) / np.sqrt(len(gap))
                print(
                    f"  {name:14} mean |error| {figures}; against without {gap.mean():+.4f} ± {doubt:.4f}", flush=True
                )
