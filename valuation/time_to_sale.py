"""`TimeToSale`: what a lot's own stays tell of the chance of a sale, week by week, at what was asked."""

from dataclasses import dataclass, replace
from typing import Any, Self

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.stats import norm
from sklearn.base import BaseEstimator
from threadpoolctl import threadpool_limits

from valuation.errors import BadInput, BadStore, NotFitted
from valuation.hazard import life_table
from valuation.latent import PRIORS, TAIL, Latent, fit_latent, from_vector
from valuation.logistic import fit_logistic
from valuation.reading import Array
from valuation.weekly import DAYS_A_WEEK, LONGEST, Stays, Weeks, known_dates, read_stays

VERSION = 2
LEAST_ENDED, LEAST_SOLD = 20, 12  # stays with an ask and a likely price of then; below them nothing is said
LEAST_INTEREST = 30  # stays whose inquiries and showings were counted; below it they are no evidence
LATEST = 1_000  # stays that are read, the last to be listed: older ones tell of another lot
# The last week of each piece of the baseline; the last piece goes on.
PIECES = (1, 2, 3, 4, 6, 8, 12, 17, 26)
# Prior sd of effects in log odds (common practice, no source).
STEP_SD, LEVEL_SD, SEASON_SD, FRESH, PRICE_LEVEL_SD, KIND_SD = 0.1, 2.0, 0.3, (0.2, 0.3), 0.3, 0.3
# Of being taken back for one cause: where none was at risk of it, one in a hundred a week.
LEAVING_USUAL, LEAVING_SD, LEAVING_STEP_SD = -4.6, 5.0, 0.6
LEAST_OF_KIND = 5
# How far below the value, as a log, an offer lies (common practice, no source), and what that is worth in offers.
CAUSES = ("price", "other")
Words = NDArray[np.object_]


@dataclass(frozen=True)
class Columns:
    """How a week becomes numbers: the pieces of time, season, a fresh cut, the price level, and the kinds known."""

    level_mean: float
    level_sd: float
    kinds: tuple[tuple[str, str], ...]

    @property
    def width(self) -> int:
        return len(PIECES) + 1 + 4 + len(self.kinds)

    def design(
        self, *, week: NDArray[Any], season: Array, fresh: Array, likely: Array, words: dict[str, Words]
    ) -> Array:
        """Columns of weeks at risk; all arguments run over the same rows, `season` with a second axis of two."""
        time = piece_of(week)
        level = np.clip((likely - self.level_mean) / self.level_sd, -3, 3)
        known = [(words[name] == word).astype(np.float64) for name, word in self.kinds]
        return np.column_stack([time, season, fresh, level, *known])

    def prior(self, *, typical: float) -> tuple[Array, Array]:
        """Precision and centre of the weights; `typical` is the log odds of a sale in a week."""
        count = len(PIECES) + 1
        steps = np.diff(np.eye(count), axis=0)
        precision = np.zeros((self.width, self.width))
        precision[:count, :count] = steps.T @ steps / STEP_SD**2 + np.eye(count) / (count * LEVEL_SD**2)
        sds = [SEASON_SD, SEASON_SD, FRESH[1], PRICE_LEVEL_SD, *[KIND_SD] * len(self.kinds)]
        precision[range(count, self.width), range(count, self.width)] = 1 / np.array(sds) ** 2
        centre = np.zeros(self.width)
        centre[:count], centre[count + 2] = typical, FRESH[0]
        return precision, centre


@dataclass(frozen=True)
class Leaving:
    """Log odds of being taken back in a week, by piece of time, and how unsure they are."""

    odds: Array
    covariance: Array

    def draws(self, count: int, *, seed: int) -> list["Leaving"]:
        rng = np.random.default_rng(seed)
        root = np.linalg.cholesky(self.covariance)
        return [
            Leaving(self.odds + shift, self.covariance) for shift in rng.standard_normal((count, len(root))) @ root.T
        ]


def piece_of(week: NDArray[Any]) -> Array:
    """Which piece of the baseline each week is in, as columns of 0 and 1.

    Examples
    --------
    >>> piece_of(np.array([1, 7, 99])).argmax(axis=1).tolist()
    [0, 5, 9]
    """
    out: Array = np.eye(len(PIECES) + 1)[np.searchsorted(PIECES, week)]
    return out


class TimeToSale(BaseEstimator):  # type: ignore[misc]  # scikit-learn has no types
    """Chance of a sale in each week of exposure, from stays that sold, were taken back, or are still there.

    Parameters
    ----------
    words : columns of kinds, whose effects are shrunk to none

    Attributes
    ----------
    enough_ : whether there were stays enough to say anything: 20 that ended, 12 of them sold
    stays_used_, sold_, taken_ : counts of stays
    interest_stays_ : stays whose inquiries and showings were counted
    latent_ : weights of the weekly chance, steepness in the ask, discounts and what asks know, with their covariance
    leaving_ : by cause, log odds of being taken back in a week of each piece of time, with their covariance
    curve_ : Kaplan-Meier estimate of the share not sold, by week: (week, share)
    own_share_ : how much of what is said about the ask rests on the lot's own stays, 0 to 1; the rest is the usual
    asked_range_ : 5th and 95th percentile of the asks over the likely price
    notes_ : sentences about what was left out and what is leant on

    Notes
    -----
    A week's log odds of a sale = time on offer (random walk over ten pieces) + season + three weeks after a cut of
    the ask + price level + kinds - S (log ask - log likely - u), with u the part of the value that no column holds: see
    `valuation.latent`. The likely price is that of the day of listing, from the sales before it (`as_then`). Days
    under deposit, in the shop or away are no exposure: `exposed_days` leaves them out. Vehicles taken back end by a
    cause of their own, by its own hazard (price; all other reasons); within a week a sale comes first.

    The chance falls with time on offer mostly because the dear ones are left: steps of the random walk are kept
    small, so that this is not put down to time. With few stays all effects shrink to none, which leaves the lot's own
    curve (Kaplan-Meier, `curve_`), and what an ask does to it shrinks to a usual value: a tenth more asked leaves
    about 42 % of the odds (common practice, no source); `own_share_` says how far it still is.

    Source: Singer & Willett 1993 (person-period logistic regression); cause-specific hazards: Prentice et al. 1978;
    the unseen part: own derivation.
    """

    def __init__(self, *, words: tuple[str, ...] = ("build_class", "make")) -> None:
        self.words = words

    def fit(self, frame: pd.DataFrame, y: None = None) -> Self:
        """Learn from stays.

        Parameters
        ----------
        frame : see `valuation.weekly.read_stays`. Rows without a likely price of then are left out and counted
        y : not used

        Raises
        ------
        BadInput
            Naming the column and the row.
        NotConverged
            The search did not settle.
        """
        for name in [name for name in vars(self) if name.endswith("_")]:  # what an earlier fit learned
            delattr(self, name)
        self.notes_: list[str] = []
        known = self._usable(frame)
        stays = read_stays(known, words=self.words)
        self.stays_used_, self.sold_ = len(known), int(stays.weeks.sold.sum())
        self.taken_ = int(stays.weeks.taken.sum())
        self.interest_stays_ = int((~np.isnan(stays.interest) & (stays.length > 0)).sum())
        self.enough_ = self.sold_ + self.taken_ >= LEAST_ENDED and self.sold_ >= LEAST_SOLD
        if long := int((known["exposed_days"] > LONGEST * DAYS_A_WEEK).sum()):
            self.notes_.append(f"{long} stays of more than {LONGEST} weeks are read up to there, as not ended by then")
        if not self.enough_:
            self.notes_.append(
                f"{self.sold_} sold and {self.taken_} taken back of known days and ask: "
                f"{LEAST_ENDED} that ended and {LEAST_SOLD} sold are needed"
            )
            return self
        with threadpool_limits(limits=1, user_api="blas"):
            self._learn(self._with_interest(stays))
        return self

    @property
    def knows_interest_(self) -> bool:
        """Whether so many counts were read that those of a vehicle in stock tell something."""
        return self.interest_stays_ >= LEAST_INTEREST

    def _with_interest(self, stays: Stays) -> Stays:
        if self.knows_interest_:
            return stays
        if self.interest_stays_:
            self.notes_.append(
                f"inquiries and showings were counted for {self.interest_stays_} stays: {LEAST_INTEREST} are needed "
                "before they tell anything"
            )
        return replace(stays, interest=np.full(len(stays.interest), np.nan))

    def _usable(self, frame: pd.DataFrame) -> pd.DataFrame:
        for name in ("likely", "sd", "listed_on"):
            if name not in frame.columns:
                raise BadInput(f"frame must have the column {name!r}, got none", column=name)
        known = frame[frame["likely"].notna() & frame["sd"].notna()]
        left = len(frame) - len(known)
        if left:
            self.notes_.append(f"{left} stays are from before there was a likely price, and tell nothing of asks")
        if len(known) > LATEST:
            self.notes_.append(f"the last {LATEST} stays are read, of {len(known)}")
            known = known.iloc[np.argsort(known_dates(known, name="listed_on"), kind="stable")[-LATEST:]]
        return known

    def _learn(self, told: Stays) -> None:
        stays = replace(told, sd=told.sd * _scale(told))
        weeks = stays.weeks
        self.columns_ = _columns(stays)
        design = self.columns_.design(
            week=weeks.week, season=weeks.season, fresh=weeks.fresh, likely=stays.likely[weeks.stay],
            words={name: values[weeks.stay] for name, values in stays.words.items()},
        )  # fmt: skip
        crude = (weeks.sold.sum() + 0.5) / (len(weeks.sold) + 1)
        takes = min(-np.log1p(-crude) / np.exp(PRIORS["log_buyers"][0]), 0.9)
        precision, centre = self.columns_.prior(typical=float(np.log(takes / (1 - takes))))
        self.latent_: Latent = fit_latent(stays, design=design, precision=precision, centre=centre)
        self.leaving_ = {cause: _leaving(weeks, chosen=stays.for_price == (cause == "price")) for cause in CAUSES}
        self.curve_ = _curve(weeks)
        first = stays.weeks.ask[weeks.week == 1] - stays.likely[weeks.stay[weeks.week == 1]]
        self.asked_range_ = tuple(float(end) for end in np.exp(np.quantile(first, [0.05, 0.95])))
        spread = np.sqrt(np.diag(self.latent_.covariance))[self.columns_.width + TAIL.index("log_steep")]
        self.own_share_ = float(np.clip(1 - (spread / PRIORS["log_steep"][1]) ** 2, 0, 1))

    def check_fitted(self) -> None:
        """Refuse to answer before `fit`.

        Raises
        ------
        NotFitted
            `fit` has not been called, or found too little.
        """
        if not getattr(self, "enough_", False):
            raise NotFitted("TimeToSale must be fitted to enough stays first: see enough_ and notes_")

    def to_dict(self) -> dict[str, Any]:
        """What was learned, as `json.dumps` takes it."""
        if not hasattr(self, "enough_"):
            raise NotFitted("TimeToSale must be fitted first: call fit")
        plain: dict[str, Any] = {
            "version": VERSION, "words": list(self.words), "enough": self.enough_, "notes": self.notes_,
            "stays_used": self.stays_used_, "sold": self.sold_, "taken": self.taken_,
            "interest_stays": self.interest_stays_,
        }  # fmt: skip
        if self.enough_:
            plain |= {
                "vector": self.latent_.vector.tolist(), "covariance": self.latent_.covariance.tolist(),
                "level": [self.columns_.level_mean, self.columns_.level_sd],
                "kinds": [list(pair) for pair in self.columns_.kinds],
                "leaving": {
                    cause: [found.odds.tolist(), found.covariance.tolist()] for cause, found in self.leaving_.items()
                },
                "curve": [list(pair) for pair in self.curve_], "asked_range": list(self.asked_range_),
                "own_share": self.own_share_,
            }  # fmt: skip
        return plain


def selling_from_dict(stored: dict[str, Any]) -> TimeToSale:
    """What `TimeToSale.to_dict` stored.

    Raises
    ------
    BadStore
        Another version, or a dict that is not such a store.
    """
    if stored.get("version") != VERSION:
        raise BadStore(f"version must be {VERSION}, got {stored.get('version')!r}: fit again")
    try:
        model = TimeToSale(words=tuple(stored["words"]))
        model.enough_, model.notes_ = bool(stored["enough"]), list(stored["notes"])
        model.stays_used_, model.sold_, model.taken_ = stored["stays_used"], stored["sold"], stored["taken"]
        model.interest_stays_ = stored["interest_stays"]
        if model.enough_:
            kinds = tuple((str(name), str(word)) for name, word in stored["kinds"])
            mean, spread = stored["level"]
            model.columns_ = Columns(float(mean), float(spread), kinds)
            model.latent_ = from_vector(np.array(stored["vector"]), covariance=np.array(stored["covariance"]))
            model.leaving_ = {
                cause: Leaving(np.array(odds), np.array(doubt)) for cause, (odds, doubt) in stored["leaving"].items()
            }
            model.curve_ = [(int(week), float(share)) for week, share in stored["curve"]]
            model.asked_range_ = tuple(stored["asked_range"])
            model.own_share_ = stored["own_share"]
    except (KeyError, TypeError, ValueError) as error:
        raise BadStore(f"the stored fit must be one that to_dict made, got otherwise: {error!r}") from error
    return model


def _columns(stays: Stays) -> Columns:
    kinds = [
        (name, str(word))
        for name, values in stays.words.items()
        for word, count in zip(*np.unique(values[values != ""].astype(str), return_counts=True), strict=True)
        if count >= LEAST_OF_KIND
    ]
    return Columns(float(stays.likely.mean()), max(float(stays.likely.std()), 0.1), tuple(kinds))


def _scale(stays: Stays) -> float:
    """By how much the likely prices of then were less sure than they said, by those that sold; never less than 1."""
    miss = (stays.sold_at - stays.likely) / stays.sd
    miss = np.abs(miss[~np.isnan(miss)])
    return max(float(np.quantile(miss, 0.8)) / float(norm.ppf(0.9)), 1.0) if len(miss) else 1.0


def _leaving(weeks: Weeks, *, chosen: NDArray[np.bool_]) -> Leaving:
    """Being taken back for one cause."""
    pieces = piece_of(weeks.week)
    at_risk = pieces.T @ (1 - weeks.sold)
    gone = pieces.T @ (weeks.taken * chosen[weeks.stay])
    count = pieces.shape[1]
    steps = np.diff(np.eye(count), axis=0)
    precision = steps.T @ steps / LEAVING_STEP_SD**2 + np.eye(count) / (count * LEAVING_SD**2)
    share = np.divide(gone, at_risk, out=np.zeros(count), where=at_risk > 0)
    usual = np.full(count, LEAVING_USUAL)
    found = fit_logistic(np.eye(count), outcome=share, counts=at_risk, precision=precision, centre=usual)
    return Leaving(found.weights, found.covariance)


def _curve(weeks: Weeks) -> list[tuple[int, float]]:
    last = np.r_[np.diff(weeks.stay) > 0, True]
    found = life_table(weeks.week[last], weeks.sold[last] > 0)
    return [(int(week), float(share)) for week, share in zip(found.times, found.survival, strict=True)]
