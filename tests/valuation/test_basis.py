"""What a number turns into."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from valuation.basis import BEYOND, CENTRES, make_line, make_rising, make_smooth

X = np.random.default_rng(0).normal(50, 12, size=200)


def test_the_bend_holds_no_line() -> None:
    columns = make_smooth(X, endless=False, bends=True).columns(X)
    line = np.column_stack([np.ones_like(X), columns[:, 0]])
    assert_allclose(line.T @ columns[:, 1:], 0, atol=1e-8)


def test_the_bend_is_the_low_rank_kernel_before_the_line_is_taken_out() -> None:
    smooth = make_smooth(X, endless=False, bends=True)
    kernel = np.exp(-0.5 * (smooth.centres[:, None] - smooth.centres) ** 2)
    assert_allclose(kernel @ smooth.root @ smooth.root.T @ kernel, kernel, atol=1e-5)


@pytest.mark.parametrize("endless", [False, True])
def test_outside_the_range_seen_the_line_goes_on_and_the_bend_does_not(endless: bool) -> None:
    smooth = make_smooth(X, endless=endless, bends=True)
    edge, near, far, farther = smooth.columns(X.max() + smooth.sd * np.array([0, BEYOND, 3, 30]))
    assert_allclose([near[1:], far[1:], farther[1:]], [edge[1:]] * 3)
    assert near[0] - edge[0] == pytest.approx(BEYOND)
    assert far[0] - edge[0] == pytest.approx(3 if endless else BEYOND)
    assert farther[0] - edge[0] == pytest.approx(30 if endless else BEYOND)


def test_few_different_values_are_a_line() -> None:
    assert make_smooth(np.array([1.0, 2.0, 1.0]), endless=False, bends=True).widths == (1,)
    assert make_smooth(X, endless=False, bends=False).widths == (1,)


def test_heaped_values_have_fewer_centres() -> None:
    heaped = np.array([0.0] * 90 + list(range(1, 11)), dtype=float)
    assert len(make_smooth(heaped, endless=False, bends=True).centres) < CENTRES


def test_ramps_add_up_to_the_line() -> None:
    rising = make_rising(X, bends=True)
    columns = rising.columns(X)
    assert_allclose(columns[:, 0], columns[:, 1:].sum(axis=1))
    assert_allclose(columns[:, 0], (X - X.mean()) / X.std(), atol=1e-12)


def test_ramps_never_fall_and_are_flat_far_outside() -> None:
    rising = make_rising(X, bends=True)
    margin = BEYOND * rising.sd
    ends = np.array([X.min() - margin, X.max() + margin])
    columns = rising.columns(np.linspace(ends[0] - 20, ends[1] + 20, 300))
    assert (np.diff(columns, axis=0) >= 0).all()
    assert_allclose(columns[[0, -1]], rising.columns(ends))


def test_end_ramps_go_on_at_their_slope() -> None:
    rising = make_rising(X, bends=True)
    below, low, high, above = rising.columns(np.array([X.min() - 5, X.min(), X.max(), X.max() + 5]))
    assert_allclose(low - below, np.eye(6)[1] * 5 / rising.sd + np.eye(6)[0] * 5 / rising.sd)
    assert_allclose(above - high, np.eye(6)[5] * 5 / rising.sd + np.eye(6)[0] * 5 / rising.sd)


def test_a_line_is_standardised_and_held() -> None:
    columns = make_line(X).columns(np.append(X, 1e6))[:, 0]
    assert_allclose([columns[:-1].mean(), columns[:-1].std()], [0, 1], atol=1e-12)
    assert columns[-1] == columns[:-1].max()
