"""The likelihood that sums over what the columns cannot see."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import check_grad
from scipy.special import expit
from scipy.stats import nbinom

from tests.valuation.selling_lot import fitted_stays, stays
from valuation import NotConverged
from valuation.latent import PRIORS, SHAPE, TAIL, Latent, _Problem, chance_of, fit_latent, from_vector, log_count, nodes
from valuation.reading import Array
from valuation.time_to_sale import piece_of
from valuation.weekly import Stays, read_stays


def parts(*, rows: int = 60, counted: bool = True) -> tuple[Stays, Array]:
    frame = stays().iloc[:rows]
    read = read_stays(frame if counted else frame.drop(columns="interest"))
    return read, piece_of(read.weeks.week)


def problem(read: Stays, design: Array) -> _Problem:
    width = design.shape[1]
    return _Problem(read, design, np.eye(width), np.zeros(width))


def somewhere(design: Array, *, seed: int = 0) -> Array:
    rng = np.random.default_rng(seed)
    tail = [mean + 0.5 * sd * rng.standard_normal() for mean, sd in PRIORS.values()]
    return np.concatenate([rng.normal(0, 0.5, size=design.shape[1]), tail])


def test_nodes_have_the_moments_of_a_standard_normal() -> None:
    places, chances = nodes()
    assert chances.sum() == pytest.approx(1.0)
    assert chances @ places == pytest.approx(0.0, abs=1e-12)
    assert chances @ places**2 == pytest.approx(1.0, abs=2e-3)  # cut off at four standard deviations


@pytest.mark.parametrize("seed", range(3))
def test_slopes_are_the_finite_differences_of_the_height(seed: int) -> None:
    read, design = parts()
    asked = problem(read, design)
    at = somewhere(design, seed=seed)
    size = np.linalg.norm(asked.value_and_slope(at)[1])
    assert check_grad(lambda v: asked.value_and_slope(v)[0], lambda v: asked.value_and_slope(v)[1], at) < 1e-5 * size


def test_nothing_unseen_and_many_buyers_leave_a_plain_rate() -> None:
    """With every sd next to nothing the sum over u drops out. Then, as λ grows and η falls by log λ with it, a week's
    chance tends to 1 - exp(-exp(x'w - S ratio)): what is left is a binomial likelihood with that chance, exactly."""
    read, design = parts()
    bare = replace(read, sd=np.full(len(read.sd), 1e-9), first_ask=np.full(len(read.sd), np.nan),
                   sold_at=np.full(len(read.sd), np.nan), interest=np.full(len(read.sd), np.nan))  # fmt: skip
    lot = problem(bare, design)
    at, many = somewhere(design), 14.0
    width = design.shape[1]
    at[:width] -= many
    at[width + TAIL.index("log_buyers")] = many
    steep = np.exp(at[width + TAIL.index("log_steep")])
    chance = -np.expm1(-np.exp(design @ at[:width] + many - steep * lot.ratio))
    sold = bare.weeks.sold
    plain = float((sold * np.log(chance) + (1 - sold) * np.log1p(-chance)).sum())
    told = (at[width:] - lot.means) / lot.sds
    prior = 0.5 * float(at[:width] @ at[:width]) + 0.5 * float(told @ told)
    assert -lot.value_and_slope(at)[0] + prior == pytest.approx(plain, rel=1e-4)


def test_count_is_weighed_as_scipys_negative_binomial() -> None:
    counts, mean = np.arange(30.0), 4.7
    plain = nbinom.logpmf(counts, SHAPE, SHAPE / (SHAPE + mean)) - nbinom.logpmf(counts, SHAPE, 0.5)
    found = log_count(counts, log_mean=np.log(mean))[0] - log_count(counts, log_mean=np.log(SHAPE))[0]
    assert_allclose(found, plain, atol=1e-10)
    assert np.isfinite(log_count(np.array([3.0]), log_mean=np.array([2_000.0]))).all()


def test_counts_add_their_own_chances_where_nothing_is_unseen() -> None:
    """What they add to the height is the sum of their log chances at the mean that the text states."""
    (read, design), (bare, _) = parts(), parts(counted=False)
    sure, unsure = (replace(one, sd=np.full(len(one.sd), 1e-9)) for one in (read, bare))
    at = somewhere(design, seed=1)
    tail = from_vector(at).tail
    weeks = [np.flatnonzero(read.weeks.stay == row) for row in range(len(read.sd))]
    ratio = np.array([problem(read, design).ratio[rows].mean() if len(rows) else np.nan for rows in weeks])
    log_mean = np.log(read.on_offer) + tail["log_interest"] - np.exp(tail["log_drawn"]) * ratio
    told = np.nansum(log_count(read.interest, log_mean=log_mean)[0])
    lots = [problem(one, design).value_and_slope(at)[0] for one in (unsure, sure)]
    assert lots[0] - lots[1] == pytest.approx(told, rel=1e-6)


def test_stays_without_counts_leave_what_was_usual_and_all_else_alone() -> None:
    read, design = parts(counted=False)
    width = design.shape[1]
    found = fit_latent(read, design=design, precision=np.eye(width), centre=np.zeros(width))
    usual = {name: PRIORS[name][0] for name in ("log_interest", "log_drawn")}
    assert_allclose([found.tail[name] for name in usual], list(usual.values()), atol=1e-6)
    lot, moved = problem(read, design), found.vector.copy()
    moved[[width + TAIL.index(name) for name in usual]] += [0.7, -0.4]
    kept = [place for place in range(len(moved)) if place - width not in {TAIL.index(name) for name in usual}]
    slopes = [lot.value_and_slope(at)[1][kept] for at in (found.vector, moved)]
    assert_allclose(slopes[1], slopes[0], atol=1e-6)  # so the top lies where it did before there was interest


def test_found_parameters_are_a_top_and_come_again() -> None:
    read, design = parts(rows=150)
    width = design.shape[1]
    first, again = (fit_latent(read, design=design, precision=np.eye(width), centre=np.zeros(width)) for _ in range(2))
    lot = problem(read, design)
    top = lot.value_and_slope(first.vector)[0]
    assert np.array_equal(first.vector, again.vector)
    for seed in range(20):
        shift = 0.05 * np.random.default_rng(seed).standard_normal(len(first.vector))
        assert lot.value_and_slope(first.vector + shift)[0] > top


def test_draws_scatter_as_the_covariance_says_and_repeat_by_seed() -> None:
    latent = fitted_stays().latent_
    vectors = np.array([drawn.vector for drawn in latent.draws(4000, seed=1)])
    assert_allclose(vectors.std(axis=0), np.sqrt(np.diag(latent.covariance)), rtol=0.1)
    assert_allclose(vectors[:2], [drawn.vector for drawn in latent.draws(2, seed=1)], rtol=1e-12)


def test_covariance_is_positive_and_symmetric() -> None:
    covariance = fitted_stays().latent_.covariance
    assert_allclose(covariance, covariance.T)
    assert np.linalg.eigvalsh(covariance).min() > 0


def test_vector_comes_back_from_its_parts() -> None:
    vector = np.arange(3.0 + len(TAIL))
    assert np.array_equal(from_vector(vector).vector, vector)


def test_chance_is_never_more_than_that_a_buyer_comes() -> None:
    latent: Latent = fitted_stays().latent_
    odds = np.linspace(-30, 30, 61)
    found = chance_of(odds, latent=latent)
    most = -np.expm1(-np.exp(latent.tail["log_buyers"]))
    assert (np.diff(found) >= 0).all()
    assert found[-1] == pytest.approx(most)
    assert found[10] == pytest.approx(np.exp(latent.tail["log_buyers"]) * expit(odds[10]), rel=1e-6)


def test_search_that_meets_no_number_is_refused() -> None:
    read, design = parts()
    with pytest.raises(NotConverged):
        fit_latent(
            replace(read, likely=np.full(len(read.likely), np.nan)), design=design, precision=np.eye(10),
            centre=np.zeros(10),
        )  # fmt: skip


def test_stays_that_were_not_yet_at_risk_leave_what_was_usual() -> None:
    """Listed for less than a week each: there is no week, and the search stays where it began."""
    read = read_stays(stays().iloc[:5].assign(end="listed", exposed_days=3.0, price=np.nan, followed=True))
    found = fit_latent(read, design=np.zeros((0, 10)), precision=np.eye(10), centre=np.full(10, -1.0))
    assert_allclose(found.vector, [*[-1.0] * 10, *[mean for mean, _ in PRIORS.values()]], atol=1e-4)
