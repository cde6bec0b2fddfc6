"""Ranks and folds of the band."""

from fractions import Fraction

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from valuation.bands import folds, least_count, rank_needed, row_hashes, tails, word_hashes
from valuation.reading import Roles, read


@pytest.mark.parametrize(("count", "rank"), [(9, 8), (30, 25), (99, 80)])
def test_rank_of_the_usual_two_sided_band(count: int, rank: int) -> None:
    """k = ceil((n + 1)(1 - a)) at a = 0.20, by hand: 8, 24.8 -> 25, 80. One side of 60 % gives up the same 0.20."""
    assert rank_needed(count, coverage=0.60) == rank


@settings(max_examples=200, deadline=None, database=None, derandomize=True)
@given(st.integers(1, 5000), st.sampled_from([0.5, 0.7, 0.8, 0.9, 0.95, 0.99]))
def test_rank_is_the_smallest_that_covers(count: int, coverage: float) -> None:
    rank = rank_needed(count, coverage=coverage)
    one_side = (1 + Fraction(str(coverage))) / 2
    assert Fraction(rank, count + 1) >= one_side > Fraction(rank - 1, count + 1)


@pytest.mark.parametrize("coverage", [0.5, 0.8, 0.9, 0.95])
def test_least_count_is_the_first_that_has_a_band(coverage: float) -> None:
    least = least_count(coverage)
    assert tails(np.arange(float(least)), coverage=coverage) is not None
    assert tails(np.arange(float(least - 1)), coverage=coverage) is None


def test_a_side_never_crosses_the_median() -> None:
    found = tails(np.arange(1.0, 401.0), coverage=0.8)
    assert found is not None
    assert found.below == 0.0
    assert found.above > 300


def test_tails_cover_what_they_state() -> None:
    """Share of new errors inside, over 2,000 histories of 30 errors: 28/31 + 28/31 - 1 in theory (exchangeability)."""
    rng = np.random.default_rng(1)
    inside = []
    for _ in range(2000):
        errors = rng.standard_t(4, size=31)
        found = tails(np.sort(errors[:30]), coverage=0.8)
        assert found is not None
        inside.append(-found.below <= errors[30] <= found.above)
    expected = 28 / 31 * 2 - 1
    assert abs(np.mean(inside) - expected) < 3 * np.sqrt(expected * (1 - expected) / 2000)


def test_row_hashes_see_inputs_and_not_places() -> None:
    frame = pd.DataFrame({"make": ["Tarn", "Tarn", "Merrow"], "miles": [1.0, 1.0, np.nan]})
    roles = Roles(nested=("make",), smooth=("miles",))
    hashes = row_hashes(read(frame, roles=roles))
    turned = row_hashes(read(frame.iloc[::-1], roles=roles))
    assert hashes[0] == hashes[1] != hashes[2]
    assert np.array_equal(hashes[::-1], turned)


def test_rows_without_inputs_are_all_alike() -> None:
    assert row_hashes(read(pd.DataFrame(index=range(3)), roles=Roles())).tolist() == [0, 0, 0]


def test_a_row_of_no_group_is_a_group_by_itself() -> None:
    own = np.array([5, 6, 7], dtype=np.uint64)
    found = word_hashes(np.array(["tarn", "", "tarn"], dtype=object), otherwise=own)
    assert found[0] == found[2]
    assert found[1] == 6


def test_folds_are_even_and_hold_groups_together() -> None:
    hashes = np.random.default_rng(0).integers(0, 2**60, size=95).astype(np.uint64)
    fold = folds(np.concatenate([hashes, hashes]), count=10)
    assert np.array_equal(fold[:95], fold[95:])
    assert np.bincount(fold).tolist() == [20] * 5 + [18] * 5
