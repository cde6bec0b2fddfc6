"""`PriceModel`: what a vehicle would sell for, between what and what, and why."""

from dataclasses import dataclass, replace
from typing import Any, Self

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from sklearn.base import BaseEstimator, RegressorMixin
from threadpoolctl import threadpool_limits

from valuation.bands import Hashes, least_count
from valuation.calibration import Calibration, Errors, Fit, calibrate, single_errors
from valuation.design import BASE, Design
from valuation.elsewhere import ANYWHERE, Elsewhere, read_elsewhere
from valuation.errors import BadInput, BadOption, NotFitted
from valuation.explain import split
from valuation.fitting import Additive, History, fit_rows
from valuation.market import Market, kinds_of
from valuation.past import Sales, fingerprint, history_of, in_order
from valuation.reading import Array, Roles, Table, date_column, price_column, read
from valuation.seen import Seen, counts_of, times_seen

LEAST_SALES = 12
WIDEST = 3.0  # predictive sd over the usual one, beyond which a band would be a guess
CHOICES = {"shrinkage": ("evidence", "none"), "noise": ("normal", "heavy")}
BAND = ("low", "likely", "high")


@dataclass(frozen=True)
class _Learned:
    """One fit to a history, and its errors of single sales where those could be made."""

    history: History
    additive: Additive
    errors: Errors | None = None


@dataclass(frozen=True)
class Answers:
    """Log price at the middle of the intervals, at their worst and best, and how sure that is, per vehicle.

    `sd` is the predictive standard deviation; `factor` is what each reach is multiplied with, for vehicles like this
    one and for sales of late: NaN without a band.
    """

    middle: Array
    sd: Array
    bottom: Array
    top: Array
    factor: Array


class PriceModel(RegressorMixin, BaseEstimator):  # type: ignore[misc]  # scikit-learn has no types
    """A band of selling prices from few past sales: additive in log price, shrunk by evidence, conformal.

    Parameters
    ----------
    nested : categories from the widest to the narrowest: the effect of each is shrunk to that of the one above
    factors : further categories, each shrunk to no effect
    smooth : numbers whose effect may bend; outside the range seen a straight line goes on for one standard deviation
    rising : numbers of which more never lowers low, likely or high; outside the range seen likewise. In `band` and
        `evidence`, `<name>_low` and `<name>_high` may stand beside or instead of `<name>`: low is then taken at the
        low end, high at the high end
    flags : 0/1 columns or small counts, shrunk to no effect together
    freed : triples (rising input, factor, value): for these rows the effect of the input is a line of either sign
    date : column of sale dates: a trend that goes on, and a slow drift that is held flat outside the range seen
    coverage : share of sales to fall inside the band, 0.5 to 0.99
    shrinkage : "evidence", or "none" for plain straight lines by least squares (`rising` stays non-negative)
    noise : "heavy" lets a sale far from its like weigh less; "normal" treats all alike
    folds : number of folds for the out-of-sample errors, at least 8
    decimals : places of the currency's minor unit, 0 to 4

    Attributes
    ----------
    sales_used_ : number of sales fitted
    sales_hash_ : fingerprint of the sales fitted (inputs and prices), whatever their order
    notes_ : sentences about columns that could not be used, and about a band that could not be made
    calibration_ : out-of-sample errors and how far the band reaches by them; None where there is no band
    elsewhere_ : what was learned of sales elsewhere (`market.Market`); None where none were given
    seen_ : how often each make and model was sold, here and elsewhere
    typical_sd_ : median predictive standard deviation of log price out of sample; NaN where there is no band

    Notes
    -----
    log price = base + make + model within make + factors + lines and smooths + rising ramps + flags + drift
    + what inputs that do not rise do in combination + noise. Every block of weights has a variance of its own,
    found by maximum marginal likelihood with weak priors and, below 1,000 sales, averaged over its posterior. A
    missing number counts with its expected effect and widens the band; a category missing or never seen has no
    effect and widens it likewise.

    The band is likely × exp(-below f sd), likely × exp(above f sd), the reaches being ranks of out-of-sample
    errors from folds in which everything learnt from prices is refitted, mixed with twenty errors as they usually
    are. A vehicle of a make (or model) never seen takes errors from folds that held out whole makes (or models),
    each counting once. f is larger where errors were larger: for vehicles like this one, and for all when sales of
    late were missed by more than usual. Nothing in a spread depends on the value of a rising input.

    Sales elsewhere are rows of the same model with columns of their own (what all of them stand apart, each kind,
    source and make), noise of their own for each kind, and no part in the errors: bands rest on the lot's own sales.
    Where they do not raise the log probability of the lot's own prices, held out in folds, by more than one standard
    error of the mean gain, they are left out. A make or model never sold here but elsewhere takes errors from folds
    that held out whole makes (or models) of the lot.

    Rule of enough evidence: 12 sales or more (19 at coverage 0.90, 39 at 0.95); for a make or model never
    seen also 5 makes or models sold at least twice, else nothing tells how far makes lie apart; and a
    predictive standard deviation of at most 3 times the usual one.

    Prices must be positive; text is compared without regard to capitals; duplicated rows are allowed and
    share a fold.

    Source: MacKay 1992 (evidence); Vovk, Gammerman & Shafer 2005 (conformal); standardised errors: Lei et
    al. 2018, section 5.2; the combination is own derivation.

    Examples
    --------
    >>> sales = pd.DataFrame({"make": ["Merrow", "Tarn"] * 10, "miles": [float(m) for m in range(20)]})
    >>> price = [20_000 * (1 + (i % 2)) * 0.98 ** i * (1 + 0.01 * (i % 3)) for i in range(20)]
    >>> model = PriceModel(nested=("make",), smooth=("miles",), date=None).fit(sales, price)
    >>> band = model.band(sales.head(1))
    >>> bool((band["low"] < band["likely"]).all() and (band["likely"] < band["high"]).all())
    True
    """

    def __init__(
        self,
        *,
        nested: tuple[str, ...] = ("make", "model"),
        factors: tuple[str, ...] = (),
        smooth: tuple[str, ...] = (),
        rising: tuple[str, ...] = (),
        flags: tuple[str, ...] = (),
        freed: tuple[tuple[str, str, str], ...] = (),
        date: str | None = "ended_on",
        coverage: float = 0.80,
        shrinkage: str = "evidence",
        noise: str = "heavy",
        folds: int = 10,
        decimals: int = 2,
    ) -> None:
        self.nested = nested
        self.factors = factors
        self.smooth = smooth
        self.rising = rising
        self.flags = flags
        self.freed = freed
        self.date = date
        self.coverage = coverage
        self.shrinkage = shrinkage
        self.noise = noise
        self.folds = folds
        self.decimals = decimals

    def fit(self, frame: pd.DataFrame, price: Any, *, elsewhere: Elsewhere | None = None) -> Self:
        """Learn from sales.

        Parameters
        ----------
        frame : one row per sale with the columns of every role
        price : selling prices in currency units, shape (n_sales,), each positive
        elsewhere : sales that were not the lot's own, which count with their own, estimated weight; see `elsewhere_`

        Raises
        ------
        BadInput
            The frame is empty, lacks a column or holds text or infinity for a number; a price is not
            positive; twelve or more prices are all equal. Column and row are named.
        BadOption
            A parameter is out of its range, or a column has two roles.
        NotConverged
            The strengths of shrinkage did not settle.
        """
        with threadpool_limits(limits=1, user_api="blas"):  # sums in one order: the same rows, the same digits
            return self._fit(frame, price, elsewhere=elsewhere)

    def fit_median(self, frame: pd.DataFrame, price: Any, *, elsewhere: Elsewhere | None = None) -> Self:
        """As `fit`, without the out-of-sample errors: `predict` answers as after `fit`, `band` has none.

        For where only the median as it would have been is asked, many times over: a tenth of the work. Sales elsewhere
        are used unasked: whether they help is told by errors alone.
        """
        with threadpool_limits(limits=1, user_api="blas"):
            return self._fit(frame, price, elsewhere=elsewhere, calibrated=False)

    def _fit(
        self, frame: pd.DataFrame, price: Any, *, elsewhere: Elsewhere | None = None, calibrated: bool = True
    ) -> Self:
        roles = self._checked_roles()
        table = read(frame, roles=roles)
        own = in_order(table, prices=price_column(price, size=table.size))
        _refuse_unfit(own.table, prices=own.prices)
        others = in_order(*read_elsewhere(elsewhere, roles=roles)) if elsewhere is not None and len(elsewhere) else None
        self.sales_used_ = table.size
        self.sales_hash_ = fingerprint(own, others=others)
        self.feature_names_in_ = np.array([*roles.words, *roles.numbers], dtype=object)
        judged = calibrated and table.size >= self._least_sales
        found, self.elsewhere_, notes = self._better(own, others=others, roles=roles, judged=judged)
        history, used = found.history, self.elsewhere_ is not None and self.elsewhere_.used
        self.design_: Design = history.design
        here = {name: counts_of(own.table.words[name]) for name in roles.nested}
        there = {name: counts_of(others.table.words[name]) for name in roles.nested} if others and used else {}
        self.seen_ = Seen(here, there)
        self.notes_ = [*self.design_.notes, *notes]
        self.additive_: Additive = found.additive
        self.typical_: Array = history.own.typical()
        self.calibration_ = self._calibrate(found, hashes=own.hashes) if calibrated else None
        return self

    def _better(
        self, own: Sales, *, others: Sales | None, roles: Roles, judged: bool
    ) -> tuple[_Learned, Market | None, list[str]]:
        """The fit with sales elsewhere, or that without where these do not help to tell the lot's own prices."""
        if others is None:
            return self._learned(own, others=None, roles=roles, judged=judged), None, []
        found, count = self._learned(own, others=others, roles=roles, judged=judged), others.table.size
        kinds = kinds_of(found.history, model=found.additive)
        alone = self._learned(own, others=None, roles=roles, judged=judged) if found.errors else None
        if found.errors is None or alone is None or alone.errors is None:
            return found, Market(True, count, float("nan"), float("nan"), kinds), []
        apart = found.errors.told - alone.errors.told
        gain, chance = float(apart.mean()), float(apart.std(ddof=1) / np.sqrt(len(apart)))
        market = Market(gain > chance, count, gain, float(np.median(alone.errors.sd)), kinds)
        if market.used:
            return found, market, []
        text = f"the {count} sales elsewhere do not clearly help to tell the prices of the lot's own: left out"
        return alone, market, [text]

    def _learned(self, own: Sales, *, others: Sales | None, roles: Roles, judged: bool) -> _Learned:
        history = history_of(own, others=others, roles=roles, bends=self.shrinkage == "evidence")
        found = _Learned(history, self._fit_rows(history, used=np.ones(history.table.size)))
        if not judged:
            return found
        errors = single_errors(history, fit=self._again(found), hashes=own.hashes, count=self.folds)
        return replace(found, errors=errors)

    def _checked_roles(self) -> Roles:
        for name, allowed in CHOICES.items():
            if getattr(self, name) not in allowed:
                raise BadOption(f"{name} must be one of {', '.join(allowed)}, got {getattr(self, name)!r}")
        _between("coverage", value=self.coverage, low=0.5, high=0.99)
        _between("folds", value=self.folds, low=8, high=100)
        _between("decimals", value=self.decimals, low=0, high=4)
        lists = {name: getattr(self, name) for name in ("nested", "factors", "smooth", "rising", "flags", "freed")}
        for name, value in lists.items():
            if isinstance(value, str) or not hasattr(value, "__iter__"):
                raise BadOption(f"{name} must be a tuple of column names, got {value!r}")
        roles = Roles(**{name: tuple(value) for name, value in lists.items()}, date=self.date)
        roles.check()
        return roles

    def _fit_rows(self, history: History, *, used: Array, start: Additive | None = None) -> Additive:
        shrunk = self.shrinkage == "evidence"
        return fit_rows(history, used=used, heavy=self.noise == "heavy", shrunk=shrunk, start=start)

    def _again(self, found: _Learned) -> Fit:
        def fit(used: Array) -> Additive:
            return self._fit_rows(found.history, used=used, start=found.additive)

        return fit

    @property
    def _least_sales(self) -> int:
        return max(LEAST_SALES, least_count(self.coverage))

    def _calibrate(self, found: _Learned, *, hashes: Hashes) -> Calibration | None:
        if self.sales_used_ < self._least_sales:
            self.notes_.append(f"there are {self.sales_used_} sales; a band needs {self._least_sales}")
            return None
        if found.errors is None:
            self.notes_.append("the sales do not differ in any input: nothing tells how far a prediction misses")
            return None
        return calibrate(
            found.history,
            errors=found.errors,
            fit=self._again(found),
            hashes=hashes,
            coverage=self.coverage,
            count=self.folds,
        )

    def predict(self, frame: pd.DataFrame) -> Array:
        """The likely (median) selling price, rounded to the minor unit; also where the evidence is too thin
        for a band.

        Returns
        -------
        Currency units, shape (n_vehicles,).
        """
        pieces = self.design_.pieces(self._read(frame))
        return self._money(np.concatenate([np.empty(0), *(self.additive_.mean(piece) for _, piece in pieces)]))

    def band(self, frame: pd.DataFrame) -> pd.DataFrame:
        """Low, likely and high selling price.

        Returns
        -------
        Columns low, likely, high in currency units rounded to the minor unit, on the frame's index; NaN in
        all three where the evidence is too thin (`evidence` tells why).
        """
        table = self._read(frame)
        found = self._answers(table)
        below, above = self._reach(table)
        enough = self._verdict(table, sd=found.sd)[0]
        unit = found.factor * found.sd
        logs = (found.bottom - below * unit, found.middle, found.top + above * unit)
        columns = {name: np.where(enough, self._money(log), np.nan) for name, log in zip(BAND, logs, strict=True)}
        return pd.DataFrame(columns, index=frame.index)

    def _answers(self, table: Table) -> "Answers":
        middle, sd, factor = np.empty(table.size), np.empty(table.size), np.full(table.size, np.nan)
        calibration = self.calibration_
        for rows, piece in self.design_.pieces(table):
            middle[rows], sd[rows] = self.additive_.mean(piece), np.sqrt(self.additive_.variance(piece))
            if calibration is not None:
                spread = calibration.spread
                factor[rows] = calibration.lately * (1.0 if spread is None else spread.factor(piece))
        bottom, top = middle.copy(), middle.copy()
        for worst, best in self.design_.swings(table, weights=self.additive_.weights).values():
            bottom += worst
            top += best
        return Answers(middle, sd, bottom, top, factor)

    def parts(self, frame: pd.DataFrame) -> pd.DataFrame:
        """The likely price in parts that add up to it, to the minor unit.

        Returns
        -------
        One column per part in currency units, on the frame's index: `base` (a typical sale: every input at
        its mean effect over the sales), then every input that is used, as what it adds to that. Summed as
        decimals of the minor unit they equal `predict` exactly.
        """
        table = self._read(frame)
        rows = self.design_.expand(table)
        weighted = (rows.matrix - self.typical_) * self.additive_.weights
        usual = float(self.typical_ @ self.additive_.weights)
        names = [name for name in dict.fromkeys(self.design_.parts) if name != ANYWHERE]  # nothing of a vehicle here
        place = np.array([names.index(part) if part in names else -1 for part in self.design_.parts])
        effects = np.column_stack([weighted[:, place == number].sum(axis=1) for number in range(len(names))])
        minor = np.log(10.0) * self.decimals
        total = self._minor(self.additive_.mean(rows))
        whole = split(effects[:, 1:], base=np.full(len(effects), usual + minor), total=total)
        return pd.DataFrame(whole / 10**self.decimals, columns=names, index=frame.index)

    def log_price(self, frame: pd.DataFrame) -> pd.DataFrame:
        """Median and standard deviation of the log price of one sale like each row, before any calibration.

        Returns
        -------
        Columns `median` and `sd`, on the frame's index.
        """
        table = self._read(frame)
        middle, sd = np.empty(table.size), np.empty(table.size)
        for rows, piece in self.design_.pieces(table):
            middle[rows], sd[rows] = self.additive_.mean(piece), np.sqrt(self.additive_.variance(piece))
        return pd.DataFrame({"median": middle, "sd": sd}, index=frame.index)

    def drift(self, dates: Any) -> Array:
        """What the market did over time, by the model.

        Parameters
        ----------
        dates : dates, datetimes or ISO texts, shape (n_dates,), at least one

        Returns
        -------
        Log price relative to the last of `dates`, shape (n_dates,): zeros where the model has no date.

        Notes
        -----
        The part of log price that depends on the date alone: trend and slow drift, for a vehicle otherwise
        the same. Outside the dates of the history the trend goes on and the drift is held flat.

        Source: own derivation.

        Examples
        --------
        >>> sales = pd.DataFrame({"ended_on": [f"20{y}-01-01" for y in range(10, 30)]})
        >>> model = PriceModel(nested=(), noise="normal").fit(sales, [1000 * 1.1 ** y for y in range(20)])
        >>> bool(model.drift(["2012-01-01", "2020-01-01"])[0] < -0.5)
        True
        """
        self._check_fitted()
        days = date_column(pd.DataFrame({"dates": list(dates)}), name="dates")
        found = np.zeros(len(days))
        for term in self.design_.numbers:
            if term.name == self.design_.roles.date:
                found += term.basis.columns(days) @ self.additive_.weights[term.columns]
        out: Array = found - found[-1]
        return out

    def slopes(self) -> dict[str, float]:
        """Effect of one unit of each numeric input on log price, of a model fitted with shrinkage="none".

        Returns
        -------
        By name: log price per unit of the column (per day for the date). An input that was not used is absent.

        Raises
        ------
        BadOption
            The model was fitted with shrinkage: its effects bend and have no single slope.
        """
        self._check_fitted()
        if self.shrinkage != "none":
            raise BadOption(f"slopes needs shrinkage to be 'none', got {self.shrinkage!r}")
        weights = self.additive_.weights
        return {
            term.name: float(weights[term.columns].sum()) / term.basis.sd
            for term in self.design_.numbers
            if term.only is None or not term.only[2]
        }

    def evidence(self, frame: pd.DataFrame) -> pd.DataFrame:
        """What each band rests on.

        Returns
        -------
        Columns, on the frame's index: `sales_used`; `sales_of_<level>` for every nested level; where sales elsewhere
        are used, `sales_elsewhere` and `elsewhere_of_<level>`; `like`
        (number of sales of exactly this kind that would make its median as sure as it is); `sd_ratio`
        (predictive standard deviation over the usual one, NaN without a band); `enough`; `reason` (why not;
        "" where it is enough).
        """
        table = self._read(frame)
        rows = self.design_.expand(table)
        variance = self.additive_.variance(rows)
        enough, reason = self._verdict(table, sd=np.sqrt(variance))
        noise = self.additive_.strengths.noise
        columns: dict[str, Any] = {"sales_used": np.full(table.size, self.sales_used_)}
        for name, counts in self.seen_.here.items():
            columns[f"sales_of_{name}"] = times_seen(table.words[name], counts=counts)
        if self.elsewhere_ is not None and self.elsewhere_.used:
            columns["sales_elsewhere"] = np.full(table.size, self.elsewhere_.count)
        for name, counts in self.seen_.elsewhere.items():
            columns[f"elsewhere_of_{name}"] = times_seen(table.words[name], counts=counts)
        unsure = np.maximum(variance - noise, np.finfo(float).tiny)
        columns["like"] = np.minimum(noise / unsure, self.sales_used_)
        columns["sd_ratio"] = np.sqrt(variance) / self.typical_sd_
        columns["enough"], columns["reason"] = enough, reason
        return pd.DataFrame(columns, index=frame.index)

    @property
    def typical_sd_(self) -> float:
        """Median predictive standard deviation of log price out of sample; NaN where there is no band."""
        self._check_fitted()
        return self.calibration_.typical_sd if self.calibration_ else float("nan")

    def _check_fitted(self) -> None:
        if not hasattr(self, "additive_"):
            raise NotFitted("PriceModel must be fitted first: call fit")

    def _read(self, frame: pd.DataFrame) -> Table:
        self._check_fitted()
        return read(frame, roles=self.design_.roles)

    def _minor(self, log_price: Array) -> Array:
        """Whole minor units, half up."""
        out: Array = np.floor(np.exp(log_price) * 10**self.decimals + 0.5)
        return out

    def _money(self, log_price: Array) -> Array:
        out: Array = self._minor(log_price) / 10**self.decimals
        return out

    def _reach(self, table: Table) -> tuple[Array, Array]:
        return self.seen_.reach(table, found=self.calibration_.reach if self.calibration_ else {})

    def _verdict(self, table: Table, *, sd: Array) -> tuple[NDArray[np.bool_], NDArray[np.object_]]:
        """Whether the evidence is enough, and a sentence where it is not."""
        reason = np.full(table.size, "", dtype=object)
        # Sales elsewhere make others surer: that is no reason to have no band for this one.
        usual = np.fmax(self.typical_sd_, self.elsewhere_.alone_sd if self.elsewhere_ else np.nan)
        wide = sd > WIDEST * usual
        reason[wide] = f"it is unlike the {self.sales_used_} sales: more than {WIDEST:g} times as unsure as usual"
        missing = self.seen_.missing(table, reach=self._reach(table)[0])
        reason = np.where(missing == "", reason, missing)
        if self.calibration_ is None:
            reason[:] = self.notes_[-1]
        return reason == "", reason


def _between(name: str, *, value: Any, low: float, high: float) -> None:
    if not isinstance(value, int | float) or not low <= value <= high:
        raise BadOption(f"{name} must be between {low:g} and {high:g}, got {value!r}")


def _refuse_unfit(table: Table, *, prices: Array) -> None:
    if table.size == 0:
        raise BadInput("frame must have at least one sale, got an empty one")
    if table.size >= LEAST_SALES and prices.min() == prices.max():
        raise BadInput(f"price must vary, got {table.size} times {prices[0]:g}", column="price")


__all__ = ["BASE", "PriceModel"]
