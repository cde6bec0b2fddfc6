"""Asks that the model suggests against rules of thumb, on an invented lot whose truth is known. Run by hand:

    python -m tests.bench.ask_bench [--sales 60 200 600] [--fresh 2000]

Of the stays of one lot some are its past, the others are consigned anew: the model sees their columns, not their
worth. Each fresh one is sold week by week by the truth of `valuation.simulate_stays`, with the same buyers under each
way of asking. Net and gross are a commission of ten percent, a place of 11.50 a day, and an unsold vehicle worth 80 %
of its value to its consignor.
"""

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from scipy.stats import norm

from valuation import PriceModel, vehicle_model
from valuation.ahead import Plan
from valuation.outlook import glance, outlooks
from valuation.reading import Array
from valuation.simulate_stays import (
    ACCEPTED,
    AGREEMENT_DAYS,
    LEAVING,
    PAYS,
    PAYS_SD,
    SimulatedStays,
    interest_drawn,
    rate_on,
    simulate_stays,
    true_chance,
)
from valuation.simulate_stays import Plan as TruePlan
from valuation.then import as_then
from valuation.time_to_sale import TimeToSale
from valuation.unseen import moved_bands, read_positions

COMMISSION, A_DAY, UNSOLD, FLOOR = 0.10, 11.50, 0.80, 0.75
RATIOS = np.linspace(0.80, 1.40, 25)
ENDING_ON = date(2026, 10, 31)
WEEKS = AGREEMENT_DAYS // 7


@dataclass(frozen=True)
class Lot:
    """A past to learn from, and fresh consignments with their truth."""

    past: pd.DataFrame
    fresh: pd.DataFrame
    value: Array
    median: Array


def lot(sales: int, *, fresh: int, knowing: float, seed: int) -> Lot:
    drawn: SimulatedStays = simulate_stays(sales + fresh, ending_on=ENDING_ON, seed=seed, knowing=knowing)
    chosen = np.random.default_rng([seed, 5]).permutation(sales + fresh)
    past, later = np.sort(chosen[:sales]), np.sort(chosen[sales:])
    truth = drawn.truth.iloc[later]
    return Lot(
        drawn.stays.iloc[past].reset_index(drop=True), drawn.stays.iloc[later].reset_index(drop=True),
        truth["value"].to_numpy(), truth["median"].to_numpy(),
    )  # fmt: skip


def learned(past: pd.DataFrame) -> tuple[PriceModel, TimeToSale]:
    sold = past[past["end"].eq("sold")]
    then = as_then(vehicle_model(), past, on=past["listed_on"], sales=sold, price=sold["price"])
    stays = past.assign(likely=np.exp(then["median"]), sd=then["sd"])
    return vehicle_model().fit(sold, sold["price"]), TimeToSale().fit(stays)


def standing(fresh: pd.DataFrame, *, band: pd.DataFrame) -> pd.DataFrame:
    """Fresh consignments before their first ask."""
    frame = fresh.assign(
        low=band["low"], likely=band["likely"], high=band["high"], on=fresh["listed_on"], exposed_days=0.0
    )
    return frame.assign(asks=[()] * len(frame), best_offer=np.nan, interest=np.nan, followed=True)


def sold(ask: Array, *, value: Array, floor: Array, listed: list[date], seed: int) -> tuple[Array, Array]:
    """What each sold for (0 where it did not), and the days it stood, with the same buyers whatever was asked."""
    rng = np.random.default_rng([seed, 9])
    price, days = np.zeros(len(ask)), np.full(len(ask), float(AGREEMENT_DAYS))
    open_ = np.ones(len(ask), dtype=bool)
    for week in range(WEEKS):
        rates = np.array([rate_on(day, day=7 * week + 4) for day in listed])
        buyers = rng.poisson(rates)
        pays = np.exp(value[:, None] + PAYS + PAYS_SD * rng.standard_normal((len(ask), 6)))
        haggled = rng.uniform(0, 0.03, size=(len(ask), 6))
        leaves = rng.random(len(ask)) < LEAVING
        for who in range(6):
            takes = open_ & (who < buyers) & (pays[:, who] >= np.maximum(ACCEPTED * ask, floor))
            full = pays[:, who] >= ask
            price[takes] = np.where(full, ask * (1 - haggled[:, who]), pays[:, who])[takes]
            days[takes] = 7 * week + 4
            open_ &= ~takes
        days[open_ & leaves] = 7 * week + 4
        open_ &= ~leaves
    return price, days


def worth(price: Array, days: Array, *, value: Array) -> tuple[Array, Array]:
    """Net to the consignor and gross to the lot."""
    net = np.where(price > 0, price * (1 - COMMISSION), UNSOLD * np.exp(value))
    return net, price * COMMISSION - A_DAY * days


def expected(model: TimeToSale, frame: pd.DataFrame, *, coverage: float) -> tuple[pd.DataFrame, Array]:
    positions = read_positions(model, frame, coverage=coverage)
    likely, count = frame["likely"].to_numpy(), len(frame)
    asks = likely[:, None] * RATIOS
    found = glance(
        model, positions, plans=[[Plan(float(ask)) for ask in row] for row in asks],
        last_days=np.full(count, float(AGREEMENT_DAYS)), floors=FLOOR * likely,
    )  # fmt: skip
    return found, asks


def suggested(model: TimeToSale, frame: pd.DataFrame, *, coverage: float, goal: str) -> Array:
    found, asks = expected(model, frame, coverage=coverage)
    net = found["chance"] * found["price"] * (1 - COMMISSION) + (1 - found["chance"]) * UNSOLD * found["unsold_value"]
    gross = found["chance"] * found["price"] * COMMISSION - A_DAY * found["days"]
    figure = (net if goal == "net" else gross).to_numpy().reshape(asks.shape)
    low, high = model.asked_range_
    allowed = (low <= RATIOS) & (high >= RATIOS)
    best = np.where(allowed[None, :], figure, -np.inf).argmax(axis=1)
    out: Array = asks[np.arange(len(asks)), best]
    return out


def policies(sales: int, *, fresh: int, knowing: float, seed: int) -> list[str]:
    here = lot(sales, fresh=fresh, knowing=knowing, seed=seed)
    prices, model = learned(here.past)
    band = prices.band(here.fresh)
    kept = band["likely"].notna().to_numpy()
    frame = standing(here.fresh[kept], band=band[kept])
    value, listed = here.value[kept], list(pd.DatetimeIndex(frame["listed_on"]).date)
    likely = frame["likely"].to_numpy()
    ways: dict[str, Callable[[], Array]] = {
        "suggested for net": lambda: suggested(model, frame, coverage=0.80, goal="net"),
        "suggested for gross": lambda: suggested(model, frame, coverage=0.80, goal="gross"),
        "likely": lambda: likely,
        "likely + 10 %": lambda: 1.10 * likely,
    }
    asked = {name: way() for name, way in ways.items()}
    asked |= {
        f"best ratio for {goal}": likely * _best(goal, likely=likely, value=value, listed=listed, seed=seed)
        for goal in ("net", "gross")
    }
    asked |= {
        f"worth known, {goal}": _truly_best(goal, likely=likely, value=value, listed=listed)
        for goal in ("net", "gross")
    }
    results = {
        name: worth(*_again(ask, value=value, likely=likely, listed=listed, seed=seed), value=value)
        for name, ask in asked.items()
    }
    steep = np.exp(model.latent_.tail["log_steep"])
    lines = [f"past {sales}, knowing {knowing:g}, seed {seed}: {kept.sum()} fresh with a band; steepness {steep:.1f}, "
             f"asks know {model.latent_.tail['knowing']:.2f}, own share {model.own_share_:.2f}"]  # fmt: skip
    for name, (net, gross) in results.items():
        against = [_difference(mine - other) for mine, other in zip((net, gross), results["likely"], strict=True)]
        ratio = np.median(asked[name] / likely)
        lines.append(f"  {name:20} ratio {ratio:.2f}  net {net.mean():9,.0f}  gross {gross.mean():7,.0f}"
                     f"   against likely: net {against[0]}, gross {against[1]}")  # fmt: skip
    return lines


def _again(ask: Array, *, value: Array, likely: Array, listed: list[date], seed: int) -> tuple[Array, Array]:
    price, days = sold(ask, value=value, floor=FLOOR * likely, listed=listed, seed=seed)
    return price, days


def _best(goal: str, *, likely: Array, value: Array, listed: list[date], seed: int) -> float:
    """The ratio to the likely price, one for all, that does best when the truth is tried: what could be had without
    knowing more."""
    figures = []
    for ratio in RATIOS:
        price, days = sold(ratio * likely, value=value, floor=FLOOR * likely, listed=listed, seed=seed + 1000)
        figures.append(worth(price, days, value=value)[goal == "gross"].mean())
    return float(RATIOS[int(np.argmax(figures))])


def _truly_best(goal: str, *, likely: Array, value: Array, listed: list[date]) -> Array:
    """The ask of each vehicle that does best for who knows its worth: more than anyone can know, so a bound."""
    asks = likely[:, None] * RATIOS
    least = np.maximum(ACCEPTED * asks, FLOOR * likely[:, None])
    middle = value[:, None] + PAYS
    full, takes = (norm.sf((np.log(price) - middle) / PAYS_SD) for price in (asks, least))
    paid = [norm.cdf((middle + PAYS_SD**2 - np.log(price)) / PAYS_SD) for price in (least, asks)]
    bargained = np.exp(middle + PAYS_SD**2 / 2) * (paid[0] - paid[1])
    price = (full * asks * 0.985 + bargained) / np.maximum(takes, 1e-12)
    going, sold_, days = np.ones_like(asks), np.zeros_like(asks), np.zeros_like(asks)
    for week in range(WEEKS):
        rates = np.array([rate_on(day, day=7 * week + 4) for day in listed])[:, None]
        sells = -np.expm1(-rates * takes)
        days += 7 * going
        sold_ += going * sells
        going = going * (1 - sells) * (1 - LEAVING)
    net = sold_ * price * (1 - COMMISSION) + (1 - sold_) * UNSOLD * np.exp(value)[:, None]
    gross = sold_ * price * COMMISSION - A_DAY * days
    out: Array = asks[np.arange(len(asks)), (net if goal == "net" else gross).argmax(axis=1)]
    return out


def _difference(values: Array) -> str:
    return f"{values.mean():+7,.0f} ± {values.std(ddof=1) / np.sqrt(len(values)):5,.0f}"


def evidence(sales: int, *, fresh: int, knowing: float, seed: int) -> list[str]:
    """Of fresh ones unsold at day 60: how far the band's centre is off, with and without what they have shown."""
    here = lot(sales, fresh=fresh, knowing=knowing, seed=seed)
    prices, model = learned(here.past)
    band = prices.band(here.fresh)
    stood = band["likely"].notna() & here.fresh["exposed_days"].gt(60)
    frame = standing(here.fresh[stood], band=band[stood]).assign(exposed_days=60.0)
    frame["asks"] = [tuple(pair for pair in pairs if pair[0] < 60) for pairs in here.fresh.loc[stood, "asks"]]
    frame["on"] = frame["listed_on"] + pd.Timedelta(days=60)
    value = here.value[stood.to_numpy()]
    lines = [f"past {sales}, knowing {knowing:g}, seed {seed}: {len(frame)} unsold at day 60"]
    rng = np.random.default_rng([seed, 20_262])
    interest = interest_drawn(rng, value=value, asks=list(frame["asks"]), days=np.full(len(frame), 60.0))
    offers = here.fresh.loc[stood, "best_offer"]
    for name, changes in (
        ("asks not counted", {"followed": True}),
        ("and interest", {"followed": True, "interest": interest}),
        ("asks counted", {"followed": False}),
        ("and interest", {"followed": False, "interest": interest}),
        ("and offers", {"followed": False, "interest": interest, "best_offer": offers}),
        ("offers, no interest", {"followed": False, "best_offer": offers}),
    ):
        some = frame.assign(**changes)
        moved = moved_bands(model, read_positions(model, some, coverage=0.80), band=band[stood], coverage=0.80)
        if name == "asks not counted":
            lines.append(_off("no update", band=band[stood], value=value))
        lines.append(_off(name, band=moved, value=value))
    return [*lines, *_suggested_and_unsold(here, band=band, model=model, seed=seed)]


def _suggested_and_unsold(here: Lot, *, band: pd.DataFrame, model: TimeToSale, seed: int) -> list[str]:
    """The same where every ask was the model's own, 1.10 of likely: it then knows nothing that the columns do not."""
    kept = band["likely"].notna().to_numpy()
    likely, value = band["likely"].to_numpy()[kept], here.value[kept]
    listed = list(pd.DatetimeIndex(here.fresh["listed_on"][kept]).date)
    _, days = sold(1.10 * likely, value=value, floor=FLOOR * likely, listed=listed, seed=seed)
    stood = days > 60
    frame = standing(here.fresh[kept][stood], band=band[kept][stood]).assign(exposed_days=60.0)
    frame["asks"] = [((0.0, 1.10 * middle),) for middle in frame["likely"]]
    frame["on"] = frame["listed_on"] + pd.Timedelta(days=60)
    lines = [
        f"  {len(frame)} unsold at day 60 at 1.10 of likely, as suggested",
        _off("no update", band=band[kept][stood], value=value[stood]),
    ]
    rng = np.random.default_rng([seed, 20_263])
    counts = interest_drawn(rng, value=value[stood], asks=list(frame["asks"]), days=np.full(len(frame), 60.0))
    for name, interest in (("weeks", np.nan), ("and interest", counts)):
        told = read_positions(model, frame.assign(interest=interest), coverage=0.80)
        moved = moved_bands(model, told, band=band[kept][stood], coverage=0.80)
        lines.append(_off(name, band=moved, value=value[stood]))
    return lines


def _off(name: str, *, band: pd.DataFrame, value: Array) -> str:
    error = np.log(band["likely"].to_numpy()) - value
    inside = ((np.log(band["low"]) <= value) & (value <= np.log(band["high"]))).mean()
    doubt = np.abs(error).std(ddof=1) / np.sqrt(len(error))
    sizes = f"mean error {error.mean():+.3f}, mean |error| {np.abs(error).mean():.3f} ± {doubt:.3f}"
    return f"  {name:19} {sizes}, value inside {inside:.3f}"


def ranges(sales: int, *, fresh: int, knowing: float, seed: int) -> list[str]:
    """How often the stated range of a chance holds the true chance of that vehicle."""
    here = lot(sales, fresh=fresh, knowing=knowing, seed=seed)
    prices, model = learned(here.past)
    band = prices.band(here.fresh)
    kept = band["likely"].notna().to_numpy()
    frame = standing(here.fresh[kept], band=band[kept])
    held, told, truth = [], [], []
    for row in range(len(frame)):
        one = frame.iloc[[row]]
        likely = float(one["likely"].iloc[0])
        asks = [likely, 1.10 * likely]
        found = outlooks(
            model,
            read_positions(model, one, coverage=0.80),
            plans=[Plan(ask) for ask in asks],
            days=[60, 175],
            last_day=175,
            floor=FLOOR * likely,
        )
        for ask, outlook in zip(asks, found, strict=True):
            true = _true(
                ask, value=float(here.value[kept][row]), floor=FLOOR * likely, listed=one["listed_on"].iloc[0].date()
            )
            held += [chance.low <= share <= chance.high for chance, share in zip(outlook.chances, true, strict=True)]
            told += [chance.likely for chance in outlook.chances]
            truth += list(true)
    gap = [
        f"{np.mean(told_):.2f}/{np.mean(true_):.2f}" for told_, true_ in _deciles(np.array(told), truth=np.array(truth))
    ]
    return [
        f"past {sales}, knowing {knowing:g}, seed {seed}: range held the true chance in {np.mean(held):.3f} "
        f"of {len(held)}; told/true by fifth: {' '.join(gap)}"
    ]


def _deciles(told: Array, *, truth: Array) -> list[tuple[Array, Array]]:
    order = np.argsort(told)
    return [(told[part], truth[part]) for part in np.array_split(order, 5)]


def _true(ask: float, *, value: float, floor: float, listed: date) -> tuple[float, float]:
    """By day 60, which lies inside the ninth week, and by day 175."""
    plan = TruePlan(asks=np.full(WEEKS, np.log(ask)), floor=float(np.log(floor)))
    by = true_chance(np.array([value]), plan=plan, listed=listed)[0]
    return float(by[7] + (60 / 7 - 8) * (by[8] - by[7])), float(by[24])


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--sales", type=int, nargs="+", default=[60, 200, 600])
    parser.add_argument("--fresh", type=int, default=2000)
    parser.add_argument("--seeds", type=int, nargs="+", default=[1])
    parser.add_argument("--only", choices=["policies", "evidence", "ranges"])
    given = parser.parse_args()
    for part, fresh in ((policies, given.fresh), (evidence, given.fresh), (ranges, min(given.fresh, 200))):
        if given.only in (None, part.__name__):
            print(f"== {part.__name__}")
            for knowing in (0.0, 1.0):
                for count in given.sales:
                    for seed in given.seeds:
                        print("\n".join(part(count, fresh=fresh, knowing=knowing, seed=seed)), flush=True)
