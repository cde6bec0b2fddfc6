"""Invented past sales of an invented lot, with the truth known: for the demo, the tests and the benchmarks.

No marque, model, person or price here is real.

The truth, in log price; a draw is from the seed alone:

====================  ==================================================================================
base                  ln 24,000
make                  Normal(0, 0.45²) per make; ten makes, the first ones sold most often
model within make     Normal(0, 0.30²) per model; five models a make, the first ones sold most often
year                  0.22 sin((year - 1930) / 9) - 0.006 (year - 1965)
mileage               -0.10 ln(1 + miles / 25,000)
condition             0.55 (points - 65) / 50, half as steep above 80
originality           0.30 (points - 60) / 50 for survivors and restored, -0.08 of the same for modified,
                      0.10 of it for replicas
build class           survivor 0.05, restored 0.12, modified 0, replica -0.35
transmission          manual 0.06, automatic 0
body                  open 0.15, two-door 0.05, four-door -0.15, pickup 0, wagon -0.05
title brand           clean 0, rebuilt -0.22, salvage -0.45
channel               lot 0, online 0.02, trade_network -0.12
modifications         engine 0.06, transmission 0.04, suspension 0.03, brakes 0.04, interior 0.02,
                      body -0.05, electrical -0.01, others 0; most often in modified vehicles
interaction           0.10 × condition effect × make effect / 0.45: dear makes repay condition more
drift                 0.05 a year and 0.04 sin(2 π years / 3.5), lot-wide
turn, where asked for the stated change, reached in a straight line over half a year and kept, lot-wide
noise                 Student t, 6 degrees of freedom, sd 0.13
wrong rows            the stated share: price typed with a factor exp(±0.9)
====================  ==================================================================================

Missing as in real books: condition in 85 % of rows older than two years before the end and in 25 % of the
others; originality in 90 % and 45 %; mileage in 12 %; body, transmission, trim and colour in a few; an
odometer reading is "actual" in a third. One row in eight ends withdrawn, with a reason and without a price.
"""

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from valuation.errors import BadOption
from valuation.reading import Array
from valuation.schema import BUILD_CLASSES, MODIFICATION_KINDS, mods_column

Words = NDArray[np.str_]
COLUMNS = (
    "stock_number", "vin", "year", "make", "model", "trim", "body", "engine", "transmission", "build_class", "color",
    "mileage", "odometer_status", "condition", "originality", "title_brand", "modifications", "arrived_on", "listed_on",
    "first_ask", "last_ask", "result", "reason", "channel", "ended_on", "price",
)  # fmt: skip
MODELS = {
    "Merrow": ("Alder", "Finch", "Rowan", "Dunmere", "Crake"),
    "Tarn": ("Six", "Fellside", "Ghyll", "Ridgeway", "Scree"),
    "Halvard": ("Brisling", "Skerry", "Fjordbred", "Atlant", "Naust"),
    "Ostrey": ("Coupette", "Gannet", "Lagoon", "Pearl", "Tidal"),
    "Brackett": ("Hauler", "Overman", "Packhorse", "Ranchette", "Drover"),
    "Quillon": ("Parry", "Riposte", "Foil", "Guard", "Lunge"),
    "Vesper & Dane": ("Nocturne", "Compline", "Matins", "Lauds", "Vigil"),
    "Norrland": ("Hjortron", "Myr", "Skarv", "Fjell", "Snowmark"),
    "Pellworth": ("Deacon", "Almoner", "Verger", "Sexton", "Beadle"),
    "Ivershaw": ("Apogee", "Syzygy", "Parallax", "Perigee", "Umbra"),
}
MAKES = tuple(MODELS)
BODIES = {"open": 0.15, "two-door": 0.05, "four-door": -0.15, "pickup": 0.0, "wagon": -0.05}
BUILDS = dict(zip(BUILD_CLASSES, (0.05, 0.12, 0.0, -0.35), strict=True))
TRANSMISSIONS = {"manual": 0.06, "automatic": 0.0}
BRANDS = {"clean": 0.0, "rebuilt": -0.22, "salvage": -0.45}
CHANNELS = {"lot": 0.0, "online": 0.02, "trade_network": -0.12}
MODIFICATIONS = dict(zip(MODIFICATION_KINDS, (0.06, 0.04, 0.03, 0.04, 0.0, -0.05, 0.0, 0.02, -0.01, 0.0), strict=True))
ENGINES = ("straight six", "small V8", "large V8", "flat four", "twin-cam four")
COLORS = ("red", "blue", "green", "black", "white", "silver", "cream", "bronze")
REASONS = ("price", "changed mind", "sold elsewhere", "title", "damage", "other")
DAYS_A_YEAR = 365.25
TURNING_YEARS = 0.5


@dataclass(frozen=True)
class Simulated:
    """`sales` in the columns of a lot's book; `truth` on the same index: `median` price, `sd` of log price, `wrong`."""

    sales: pd.DataFrame
    truth: pd.DataFrame


def simulate(
    count: int,
    *,
    ending_on: date,
    years: float = 6.0,
    seed: int = 1,
    wrong_share: float = 0.03,
    turn: tuple[float, float] | None = None,
) -> Simulated:
    """Draw a lot's past.

    Parameters
    ----------
    count : number of sold rows; about one seventh as many withdrawn rows come on top
    ending_on : the day of the last possible sale
    years : length of the history
    seed : equal seeds give equal rows
    wrong_share : share of sold rows with a wrongly typed price, 0 to 0.5
    turn : of the market: years before the end at which it begins, above 0 and at most `years`, and the change of
        log price that it comes to. It draws nothing: all else in the rows stays as it is without a turn.

    Returns
    -------
    Rows in order of `ended_on`. Numbers missing are NaN, words missing None, dates are datetime64.

    Raises
    ------
    BadOption
        count is below 1, or wrong_share or turn out of range.

    Notes
    -----
    The module's text writes the truth down. Source: own derivation.

    Examples
    --------
    >>> drawn = simulate(5, ending_on=date(2030, 6, 30), seed=7)
    >>> int((drawn.sales["result"] == "sold").sum()), tuple(drawn.sales.columns) == COLUMNS
    (5, True)
    >>> fallen = simulate(5, ending_on=date(2030, 6, 30), seed=7, turn=(6.0, -0.2))
    >>> float((fallen.truth["median"] / drawn.truth["median"]).iloc[-1].round(6))  # exp(-0.2)
    0.818731
    """
    if count < 1:
        raise BadOption(f"count must be at least 1, got {count}")
    if not 0 <= wrong_share <= 0.5:
        raise BadOption(f"wrong_share must be from 0 to 0.5, got {wrong_share}")
    if turn is not None and not (0 < turn[0] <= years and np.isfinite(turn[1])):
        raise BadOption(f"turn must begin above 0 and at most {years:g} years before the end, got {turn}")
    rng = np.random.default_rng(seed)
    total = count + -(-count // 7)
    facts = _facts(rng, total=total, ending_on=ending_on, years=years)
    facts["sold"] = rng.permutation(total) < count
    log_median = _log_median(rng, facts=facts, years=years) + _turned(facts["ago"], turn=turn)
    noise = rng.standard_t(6, size=total) * 0.13 / np.sqrt(6 / 4)
    wrong = facts["sold"] & (rng.random(total) < wrong_share)
    typed = np.where(wrong, rng.choice([-0.9, 0.9], size=total), 0.0)
    fair = np.exp(log_median)
    price = np.round(np.exp(log_median + noise + typed) / 50) * 50
    sales = _book(rng, facts=facts, price=price, fair=fair)
    truth = pd.DataFrame({"median": fair, "sd": 0.13, "wrong": wrong}, index=sales.index)
    order = sales["ended_on"].argsort(kind="stable")
    return Simulated(*(part.iloc[order].reset_index(drop=True) for part in (sales, truth)))


def _facts(rng: np.random.Generator, *, total: int, ending_on: date, years: float) -> dict[str, Any]:
    """What each vehicle is, before anything is forgotten."""
    make = rng.choice(len(MAKES), size=total, p=_falling(len(MAKES), ratio=0.82))
    build = rng.choice(list(BUILDS), size=total, p=[0.25, 0.37, 0.30, 0.08])
    modified = build == "modified"
    year = np.clip(np.round(rng.normal(1967, 13, size=total)), 1932, 2006).astype(int)
    miles = np.round(rng.lognormal(np.log(60_000), 0.7, size=total), -1)
    originality = np.where(modified, rng.normal(38, 15, size=total), rng.normal(70, 14, size=total))
    ago = np.sort(rng.random(total))[::-1] * years * DAYS_A_YEAR
    often = np.where(modified, 0.35, 0.04)
    return {
        "make": make,
        "model": rng.choice(5, size=total, p=_falling(5, ratio=0.7)),
        "build_class": build,
        "year": year,
        "mileage": miles,
        "condition": np.clip(np.round(rng.normal(66, 15, size=total)), 5, 100),
        "originality": np.clip(np.round(originality), 0, 100),
        "body": rng.choice(list(BODIES), size=total, p=[0.2, 0.4, 0.15, 0.15, 0.1]),
        "transmission": rng.choice(list(TRANSMISSIONS), size=total),
        "title_brand": rng.choice(list(BRANDS), size=total, p=[0.93, 0.05, 0.02]),
        "channel": rng.choice(list(CHANNELS), size=total, p=[0.65, 0.25, 0.10]),
        "mods": rng.random((total, len(MODIFICATIONS))) < often[:, None],
        "ago": ago,
        "ended_on": np.datetime64(ending_on, "D") - ago.astype(int).astype("timedelta64[D]"),
    }


def _falling(count: int, *, ratio: float) -> Array:
    shares = ratio ** np.arange(count)
    out: Array = shares / shares.sum()
    return out


def _log_median(rng: np.random.Generator, *, facts: dict[str, Any], years: float) -> Array:
    """The truth written in the module's text."""
    makes = rng.normal(0, 0.45, size=len(MAKES))
    models = rng.normal(0, 0.30, size=(len(MAKES), 5))
    points, build = facts["condition"], facts["build_class"]
    condition = 0.55 * (np.minimum(points, 80) - 65 + 0.5 * np.maximum(points - 80, 0)) / 50
    steep = pd.Series(build).map({"survivor": 0.30, "restored": 0.30, "modified": -0.08, "replica": 0.10}).to_numpy()
    passed = years - facts["ago"] / DAYS_A_YEAR
    total = np.log(24_000) + makes[facts["make"]] + models[facts["make"], facts["model"]]
    total += 0.22 * np.sin((facts["year"] - 1930) / 9) - 0.006 * (facts["year"] - 1965)
    total += -0.10 * np.log1p(facts["mileage"] / 25_000) + condition + steep * (facts["originality"] - 60) / 50
    for name, effects in (
        ("build_class", BUILDS),
        ("transmission", TRANSMISSIONS),
        ("body", BODIES),
        ("title_brand", BRANDS),
        ("channel", CHANNELS),
    ):
        total += pd.Series(facts[name]).map(effects).to_numpy()
    total += facts["mods"] @ np.array(list(MODIFICATIONS.values()))
    total += 0.10 * condition * makes[facts["make"]] / 0.45
    out: Array = total + 0.05 * passed + 0.04 * np.sin(2 * np.pi * passed / 3.5)
    return out


def _turned(ago: Array, *, turn: tuple[float, float] | None) -> Array:
    """What the turn of the market adds to log price, by days before the end."""
    if turn is None:
        return np.zeros_like(ago)
    begins, change = turn
    out: Array = change * np.clip((begins - ago / DAYS_A_YEAR) / TURNING_YEARS, 0, 1)
    return out


def _book(rng: np.random.Generator, *, facts: dict[str, Any], price: Array, fair: Array) -> pd.DataFrame:
    """The rows as a lot's book would hold them."""
    total, sold = len(price), facts["sold"]
    old = facts["ago"] > 2 * DAYS_A_YEAR
    makes = np.array(MAKES, dtype=object)[facts["make"]]
    models = np.array([MODELS[make] for make in MAKES], dtype=object)[facts["make"], facts["model"]]
    actual = np.where(rng.random(total) < 1 / 3, "actual", "not stated")
    book = {
        "stock_number": [f"H{number:05d}" for number in range(1, total + 1)],
        "vin": serials(facts["year"], make=facts["make"]),
        "year": facts["year"],
        "make": makes,
        "model": models,
        "trim": _forget(rng, values=rng.choice(["base", "deluxe", "sport"], size=total), share=0.4),
        "body": _forget(rng, values=facts["body"], share=0.05),
        "engine": _forget(rng, values=rng.choice(ENGINES, size=total), share=0.2),
        "transmission": _forget(rng, values=facts["transmission"], share=0.06),
        "build_class": facts["build_class"],
        "color": _forget(rng, values=rng.choice(COLORS, size=total), share=0.1),
        "mileage": np.where(rng.random(total) < 0.12, np.nan, facts["mileage"]),
        "odometer_status": actual,
        "condition": np.where(rng.random(total) < np.where(old, 0.85, 0.25), np.nan, facts["condition"]),
        "originality": np.where(rng.random(total) < np.where(old, 0.90, 0.45), np.nan, facts["originality"]),
        "title_brand": facts["title_brand"],
        "modifications": [
            "; ".join(kind for kind, has in zip(MODIFICATIONS, row, strict=True) if has) for row in facts["mods"]
        ],
        **_stay(rng, ended_on=facts["ended_on"], price=price, fair=fair, sold=sold),
        "result": np.where(sold, "sold", "withdrawn"),
        "reason": _only(~sold, values=rng.choice(REASONS, size=total)),
        "channel": facts["channel"],
        "ended_on": facts["ended_on"],
        "price": np.where(sold, price, np.nan),
    }
    return pd.DataFrame(book)[list(COLUMNS)]


def _stay(rng: np.random.Generator, *, ended_on: Any, price: Array, fair: Array, sold: Any) -> dict[str, Any]:
    """Arrival, listing and asks: an ask never ends below what was paid."""
    total = len(price)
    exposed = np.ceil(rng.exponential(45, size=total)) + 1
    listed = ended_on - exposed.astype("timedelta64[D]")
    last = np.where(sold, price * (1 + rng.exponential(0.04, size=total)), fair * rng.uniform(1.1, 1.5, size=total))
    last = np.ceil(last / 100) * 100
    first = (
        np.ceil(last * (1 + np.where(rng.random(total) < 0.5, 0.0, rng.uniform(0.02, 0.12, size=total))) / 100) * 100
    )
    arrived = listed - rng.integers(2, 20, size=total).astype("timedelta64[D]")
    return {"arrived_on": arrived, "listed_on": listed, "first_ask": first, "last_ask": last}


def _forget(rng: np.random.Generator, *, values: Any, share: float) -> NDArray[np.object_]:
    return _only(rng.random(len(values)) >= share, values=values)


def _only(rows: NDArray[np.bool_], *, values: Any) -> NDArray[np.object_]:
    """The values of some rows, None in the others."""
    kept: NDArray[np.object_] = np.asarray(values, dtype=object)
    kept[~rows] = None
    return kept


VIN_WORTH = {**{str(digit): digit for digit in range(10)}, **dict(zip("ABCDEFGH", range(1, 9), strict=True))}
VIN_WORTH |= {
    **dict(zip("JKLMN", range(1, 6), strict=True)),
    "P": 7,
    "R": 9,
    **dict(zip("STUVWXYZ", range(2, 10), strict=True)),
}
VIN_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
YEAR_CODES = "ABCDEFGHJKLMNPRSTVWXY123456789"  # 1980 on, a cycle of 30 years


def serials(year: NDArray[Any], *, make: NDArray[Any]) -> list[str]:
    """Serials of invented vehicles, no two alike: 17 characters with a right check digit from model year
    1981, short before.

    Parameters
    ----------
    year : model years, shape (n_vehicles,)
    make : number of the make, 0 to 21, shape (n_vehicles,)

    Notes
    -----
    The prefix 1ZZ stands for no maker. Source of alphabet, weights, check digit and year codes: 49 CFR
    565.15.

    Examples
    --------
    >>> serials(np.array([1968, 1989]), make=np.array([0, 3]))
    ['8A100001', '1ZZDA11L1KA100002']
    """
    letters = "ABCDFGHJKLMNPRSTUVWXYZ"  # no E: 7E100006 is a number to a spreadsheet
    out = []
    for number, (model_year, maker) in enumerate(zip(year.tolist(), make.tolist(), strict=True), start=100_001):
        if model_year < 1981:
            out.append(f"{model_year % 10}{letters[maker]}{number}")
            continue
        seventh = "1" if model_year < 2010 else "A"  # digit or letter tells the cycle of the year code
        bare = f"1ZZ{letters[maker]}A1{seventh}L0{YEAR_CODES[(model_year - 1980) % 30]}A{number:06d}"
        rest = sum(VIN_WORTH[sign] * weight for sign, weight in zip(bare, VIN_WEIGHTS, strict=True)) % 11
        out.append(f"{bare[:8]}{'X' if rest == 10 else rest}{bare[9:]}")
    return out


def as_inputs(sales: pd.DataFrame) -> pd.DataFrame:
    """A lot's book in the columns of `valuation.schema`: grades as intervals of no width, modifications
    counted by kind.

    Examples
    --------
    >>> book = simulate(3, ending_on=date(2030, 6, 30)).sales
    >>> as_inputs(book)[["condition_low", "mods_engine"]].shape
    (4, 2)
    """
    ends = {f"{name}_{end}": sales[name] for name in ("condition", "originality") for end in ("low", "high")}
    texts = sales["modifications"].fillna("")
    counts = {
        mods_column(kind): np.array([text.split("; ").count(kind) for text in texts], dtype=np.float64)
        for kind in MODIFICATION_KINDS
    }
    return sales.drop(columns=["condition", "originality", "modifications"]).assign(**ends, **counts)
