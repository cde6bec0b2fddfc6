"""What the columns cannot see: the likelihood of stays whose vehicles are worth more or less than the likely price.

Each stay i has an unseen part u_i of its log value, normal with sd ρ s_i, s_i being how sure the likely price was. By
it

- a week's chance of a sale is 1 - exp(-λ / (1 + exp(-η))), η = x'w - S (log ask - log likely - u), S > 0: λ buyers a
  week look, and each takes it with a logistic chance, so that no ask, however low, sells faster than buyers come;
- the discount log(ask / price) of a sale is exponential with mean exp(k0 + K (log ask - log likely - u) + k2 log
  weeks), K > 0;
- the first ask, where it was not set beside a suggestion, is normal: log ask - log likely ~ (a0 + κ u, ω²), since
  whoever asks has seen the vehicle;
- how many inquired and were shown it in W weeks, where somebody counted, is negative binomial with mean
  μ = W exp(ν - ψ (r - u)), ψ > 0, r the mean over its weeks of log ask - log likely, and variance μ + μ² / 2: interest
  comes in bursts.

So an owner who asks more for better vehicles does not make the ask look harmless. Source: own derivation; the unseen
part is a frailty as in Vaupel, Manton & Stallard 1979, summed over by the trapezoid rule.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.special import expit, log_expit, logsumexp

from valuation.errors import NotConverged
from valuation.reading import Array
from valuation.weekly import Stays

FAR = 4.0  # prior standard deviations: the search goes no further
NODES = 41
REACH = 4.0  # standard deviations either way
# Prior mean and sd of what a lot's own stays teach slowly (common practice, no source): see `TimeToSale`.
PRIORS = {
    "log_buyers": (np.log(0.8), 0.4),  # of λ
    "log_steep": (np.log(9.0), 0.35),  # S: a tenth more asked leaves 42 % of the odds that a buyer takes it
    "share": (2.5, 1.0),  # of ρ, in log odds: 0.92
    "asked": (0.05, 0.2),  # a0
    "knowing": (0.5, 0.5),  # κ
    "log_markup": (np.log(0.12), 0.4),  # of ω
    "discount": (np.log(0.03), 1.0),  # k0
    "log_haggling": (np.log(2.0), 0.7),  # of K
    "waiting": (0.0, 0.3),  # k2
    "log_interest": (0.0, 1.0),  # ν: one a week at an ask equal to the value
    "log_drawn": (np.log(3.0), 0.7),  # ψ: a tenth more asked draws a quarter fewer
}
TAIL = tuple(PRIORS)
SHAPE = 2.0  # of the negative binomial of interest (common practice, no source)


def nodes(count: int = NODES) -> tuple[Array, Array]:
    """Evenly spaced standard normal places and their chances, which add up to 1.

    Even spacing, since what an ask tells can be several times sharper than the spread before it: Gauss-Hermite places
    would then lie too far apart.

    Examples
    --------
    >>> places, chances = nodes(3)
    >>> places.tolist(), chances.round(4).tolist()
    ([-4.0, 0.0, 4.0], [0.0003, 0.9993, 0.0003])
    """
    places = np.linspace(-REACH, REACH, count)
    chances = np.exp(-0.5 * places**2)
    return places, chances / chances.sum()


@dataclass(frozen=True)
class Latent:
    """Found parameters: weights of the columns of the weeks, and those of `PRIORS` by name; with their covariance."""

    weights: Array
    tail: dict[str, float]
    covariance: Array

    @property
    def vector(self) -> Array:
        return np.concatenate([self.weights, [self.tail[name] for name in TAIL]])

    def draws(self, count: int, *, seed: int) -> list["Latent"]:
        """Parameters as unsure as the fit left them: normal around what was found."""
        rng = np.random.default_rng(seed)
        root = np.linalg.cholesky(self.covariance)
        shifts = rng.standard_normal((count, len(root))) @ root.T
        return [from_vector(self.vector + shift) for shift in shifts]


def from_vector(vector: Array, *, covariance: Array | None = None) -> Latent:
    split = len(vector) - len(TAIL)
    tail = dict(zip(TAIL, vector[split:].tolist(), strict=True))
    return Latent(vector[:split], tail, np.zeros((len(vector), len(vector))) if covariance is None else covariance)


def fit_latent(stays: Stays, *, design: Array, precision: Array, centre: Array) -> Latent:
    """The most probable parameters.

    Parameters
    ----------
    stays : with `likely` and `sd` of each
    design : columns x of the weeks, shape (n_rows, n_weights)
    precision, centre : normal prior of their weights, shapes (n_weights, n_weights) and (n_weights,)

    Returns
    -------
    Latent
        In log odds, and for the parameters of `PRIORS` as named there.

    Raises
    ------
    NotConverged
        The search did not end.

    Notes
    -----
    Newton-like search (L-BFGS) on the log posterior, summed over u, each parameter of `PRIORS` within four prior
    standard deviations; the covariance is the inverse curvature there, by differences of the slope. Source: own
    derivation.

    Examples: see `tests/valuation/test_latent.py`, since stays are needed.
    """
    problem = _Problem(stays, design, precision, centre)
    begin = np.concatenate([centre, [mean for mean, _ in PRIORS.values()]])
    bounds = [(None, None)] * design.shape[1] + [(mean - FAR * sd, mean + FAR * sd) for mean, sd in PRIORS.values()]
    found = minimize(
        problem.value_and_slope, begin, jac=True, method="L-BFGS-B", bounds=bounds,
        options={"maxiter": 2000, "maxfun": 4000, "ftol": 1e-11, "gtol": 1e-4},
    )  # fmt: skip
    if not found.success:
        raise NotConverged(f"the chances of a sale must settle, got: {found.message}")
    return from_vector(found.x, covariance=_inverse(problem, at=found.x))


def _inverse(problem: "_Problem", *, at: Array, step: float = 1e-4) -> Array:
    size = len(at)
    bend = np.empty((size, size))
    for place in range(size):
        shift = np.zeros(size)
        shift[place] = step
        bend[place] = (problem.value_and_slope(at + shift)[1] - problem.value_and_slope(at - shift)[1]) / (2 * step)
    values, vectors = np.linalg.eigh((bend + bend.T) / 2)
    least = 1.0 / max(1.0, max(sd for _, sd in PRIORS.values())) ** 2 * 1e-3
    out: Array = (vectors / np.maximum(values, least)) @ vectors.T
    return (out + out.T) / 2


class _Problem:
    """Minus the log posterior and its slope."""

    def __init__(self, stays: Stays, design: Array, precision: Array, centre: Array) -> None:
        self.stays, self.design, self.precision, self.centre = stays, design, precision, centre
        weeks = stays.weeks
        self.ratio = weeks.ask - stays.likely[weeks.stay]
        self.free = ~np.isnan(stays.first_ask)
        self.first = np.nan_to_num(stays.first_ask - stays.likely)
        self.ends_at = stays.last_ask - stays.likely
        self.discount = np.maximum(stays.last_ask - stays.sold_at, 0.0)  # a price above the ask is one without discount
        self.priced = ~np.isnan(self.discount)
        self.waited = np.log(np.maximum(stays.length, 1.0))
        self.mean_ratio = mean_by_stay(self.ratio, stay=weeks.stay, count=len(stays.likely))
        self.counted = ~np.isnan(stays.interest) & ~np.isnan(self.mean_ratio)  # one not yet at risk tells nothing
        self.means = np.array([mean for mean, _ in PRIORS.values()])
        self.sds = np.array([sd for _, sd in PRIORS.values()])

    def value_and_slope(self, vector: Array) -> tuple[float, Array]:
        latent = from_vector(vector)
        stays, weeks, tail = self.stays, self.stays.weeks, latent.tail
        places, chances = nodes()
        share = expit(tail["share"])
        unit = stays.sd[:, None] * places[None, :]
        unseen = share * unit
        count = len(stays.likely)
        likelihood: Array = np.tile(np.log(chances), (count, 1))

        steep = np.exp(tail["log_steep"])
        above = self.ratio[:, None] - unseen[weeks.stay]
        odds = (self.design @ latent.weights)[:, None] - steep * above
        takes = expit(odds)
        rate = np.exp(tail["log_buyers"]) * takes
        bought = weeks.sold[:, None] > 0
        likelihood += _by_stay(np.where(bought, np.log(-np.expm1(-rate)), -rate), stay=weeks.stay, count=count)

        omega = np.exp(tail["log_markup"])
        free = self.free[:, None]
        miss = np.where(free, (self.first[:, None] - tail["asked"] - tail["knowing"] * unseen) / omega, 0.0)
        likelihood += np.where(free, -0.5 * miss**2 - tail["log_markup"], 0.0)

        keen = np.exp(tail["log_haggling"])
        beyond = self.ends_at[:, None] - unseen
        log_mean = tail["discount"] + keen * beyond + tail["waiting"] * self.waited[:, None]
        part = np.where(self.priced[:, None], np.nan_to_num(self.discount)[:, None] * np.exp(-log_mean), 0.0)
        likelihood += np.where(self.priced[:, None], -log_mean - part, 0.0)

        drawn = np.exp(tail["log_drawn"])
        dearer = np.nan_to_num(self.mean_ratio)[:, None] - unseen
        told, drawing = self._interest(tail["log_interest"] - drawn * dearer)
        likelihood += told

        whole = logsumexp(likelihood, axis=1)
        after = np.exp(likelihood - whole[:, None])

        by_rate = after[weeks.stay] * np.where(bought, rate / np.expm1(rate), -rate)
        pull = by_rate * (1 - takes)
        late = np.where(self.priced[:, None], after * (part - 1), 0.0)
        toward = after * miss / omega
        keener = after * drawing
        by_unseen = _by_stay(pull, stay=weeks.stay, count=count) * steep + tail["knowing"] * toward - keen * late
        by_unseen += drawn * keener
        slope_tail = {
            "log_buyers": float(by_rate.sum()),
            "log_steep": -steep * float((pull * above).sum()),
            "share": float((by_unseen * unit).sum()) * share * (1 - share),
            "asked": float(toward.sum()),
            "knowing": float((toward * unseen).sum()),
            "log_markup": float(np.where(free, after * (miss**2 - 1), 0.0).sum()),
            "discount": float(late.sum()),
            "log_haggling": float((late * beyond).sum()) * keen,
            "waiting": float((late * self.waited[:, None]).sum()),
            "log_interest": float(keener.sum()),
            "log_drawn": -drawn * float((keener * dearer).sum()),
        }
        slope = np.concatenate([self.design.T @ pull.sum(axis=1), [slope_tail[name] for name in TAIL]])
        return self._with_prior(float(whole.sum()), slope=slope, latent=latent)

    def _interest(self, log_rate: Array) -> tuple[Array, Array]:
        """Log likelihood of the counts, and its slope in the log of their mean; both 0 where nobody counted."""
        interest, counted = np.nan_to_num(self.stays.interest)[:, None], self.counted[:, None]
        log_mean = np.log(self.stays.on_offer)[:, None] + log_rate
        height, slope = log_count(interest, log_mean=log_mean)
        return np.where(counted, height, 0.0), np.where(counted, slope, 0.0)

    def _with_prior(self, height: float, *, slope: Array, latent: Latent) -> tuple[float, Array]:
        away = latent.weights - self.centre
        told = (np.array([latent.tail[name] for name in TAIL]) - self.means) / self.sds
        height -= 0.5 * float(away @ self.precision @ away) + 0.5 * float(told @ told)
        slope = slope - np.concatenate([self.precision @ away, told / self.sds])
        return -height, -slope


def chance_of(odds: Array, *, latent: Latent) -> Array:
    """Chance of a sale in a week from its log odds η.

    Examples
    --------
    >>> one_a_week = from_vector(np.zeros(len(TAIL)))
    >>> chance_of(np.array([0.0, 50.0]), latent=one_a_week).round(4).tolist()  # 1 - exp(-1/2), 1 - exp(-1)
    [0.3935, 0.6321]
    """
    out: Array = -np.expm1(-np.exp(latent.tail["log_buyers"]) * expit(odds))
    return out


def log_count(count: Array, *, log_mean: Array) -> tuple[Array, Array]:
    """Log chance of a negative binomial count but for what does not depend on its mean, and the slope in `log_mean`.

    Parameters
    ----------
    count : 0 or more; it and `log_mean` of shapes that go together

    Notes
    -----
    With shape k and mean μ: n log μ - (n + k) log(μ + k), of slope k (n - μ) / (μ + k). The slope rises with n, so a
    greater count never speaks for a smaller mean. Source: McCullagh & Nelder 1989, chapter 11.

    Examples
    --------
    >>> height, slope = log_count(np.array([4.0, 9.0]), log_mean=np.log([4.0, 4.0]))
    >>> slope.round(4).tolist()
    [0.0, 1.6667]
    """
    above = log_mean - np.log(SHAPE)
    height: Array = count * log_mean - (count + SHAPE) * (np.log(SHAPE) - log_expit(-above))
    slope: Array = count * expit(-above) - SHAPE * expit(above)  # as in the notes; no mean is too great for it
    return height, slope


def mean_by_stay(rows: Array, *, stay: NDArray[np.int64], count: int) -> Array:
    """Mean of the rows of each stay; NaN for one without a row.

    Examples
    --------
    >>> mean_by_stay(np.array([1.0, 3.0, 5.0]), stay=np.array([0, 0, 2]), count=3).tolist()
    [2.0, nan, 5.0]
    """
    weeks = np.bincount(stay, minlength=count)
    total = np.bincount(stay, weights=rows, minlength=count)
    out: Array = np.divide(total, weeks, out=np.full(count, np.nan), where=weeks > 0)
    return out


def _by_stay(rows: Array, *, stay: NDArray[np.int64], count: int) -> Array:
    """Rows of each stay added up; a stay without a row has zero."""
    out = np.zeros((count, rows.shape[1]))
    if len(rows):
        starts = np.flatnonzero(np.r_[True, np.diff(stay) > 0])
        out[stay[starts]] = np.add.reduceat(rows, starts, axis=0)
    return out
