"""The invented lot does what its text says."""

from datetime import date
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest

from tests.valuation.selling_lot import LAST
from valuation import BadOption
from valuation.simulate_stays import (
    AGREEMENT_DAYS,
    CUT_WEEKS,
    DRAWN,
    FLOOR,
    INQUIRIES,
    OTHER_REASONS,
    Plan,
    SimulatedStays,
    _stay,
    interest_drawn,
    simulate_stays,
    true_chance,
)
from valuation.weekly import asks_of, read_stays


@pytest.fixture(scope="module")
def many() -> SimulatedStays:
    return simulate_stays(800, ending_on=LAST, seed=11)


def test_equal_seeds_give_equal_rows_and_others_do_not() -> None:
    one, two, other = (simulate_stays(50, ending_on=LAST, seed=seed) for seed in (5, 5, 6))
    pd.testing.assert_frame_equal(one.stays, two.stays)
    assert not one.truth.equals(other.truth)


def test_rows_are_what_the_fit_reads_and_none_is_of_the_future(many: SimulatedStays) -> None:
    stays = many.stays
    read_stays(stays.assign(likely=np.exp(many.truth["median"]), sd=0.1), words=("make",))
    assert stays["listed_on"].is_monotonic_increasing
    assert (stays.loc[stays["end"] != "listed", "ended_on"] <= pd.Timestamp(LAST)).all()
    assert stays["price"].notna().equals(stays["end"].eq("sold"))


def test_asks_are_cut_after_every_six_weeks_and_never_below_the_floor(many: SimulatedStays) -> None:
    for row in range(200):
        pairs = asks_of(many.stays, row=row)
        assert all(day % (7 * CUT_WEEKS) == 0 for day, _ in pairs)
        assert pairs[-1][1] >= FLOOR * pairs[0][1]
        assert all(0.90 < now / was < 0.98 for (_, was), (_, now) in pairwise(pairs) if now > 10_000)


def test_stays_are_taken_back_at_the_end_for_the_price_and_before_for_other_reasons(many: SimulatedStays) -> None:
    taken = many.stays[many.stays["end"] == "withdrawn"]
    at_end = taken["reason"].eq("price")
    assert (taken.loc[at_end, "exposed_days"] == AGREEMENT_DAYS // 7 * 7).all()
    assert set(taken.loc[~at_end, "reason"]) <= set(OTHER_REASONS)


def test_owner_who_knows_asks_more_for_better_vehicles(many: SimulatedStays) -> None:
    knowing = simulate_stays(800, ending_on=LAST, seed=11, knowing=1.0)
    for drawn, low, high in ((many, -0.1, 0.1), (knowing, 0.55, 0.85)):
        quality = drawn.truth["value"] - drawn.truth["median"]
        first = np.log([pairs[0][1] for pairs in drawn.stays["asks"]]) - drawn.truth["median"]
        assert low < np.corrcoef(quality, first)[0, 1] < high  # 0.10 / sqrt(0.10² + 0.06² + 0.09²) = 0.68


def test_knowing_more_than_all_is_refused() -> None:
    with pytest.raises(BadOption, match="knowing"):
        simulate_stays(10, ending_on=LAST, knowing=1.5)


def test_inquiries_are_as_many_as_the_truth_says() -> None:
    """By hand: 70 days at a tenth above the value, 14 of them after a cut to it."""
    ask, count = 22_000.0, 4_000
    drawn = interest_drawn(
        np.random.default_rng(2), value=np.full(count, np.log(20_000.0)), days=np.full(count, 70.0),
        asks=[((0, ask), (56, 20_000.0))] * count,
    )  # fmt: skip
    mean = INQUIRIES * (8 * 1.1**-DRAWN + 2)
    assert abs(drawn.mean() - mean) < 4 * np.sqrt(mean / count)


def test_true_chance_is_how_often_such_a_vehicle_sells() -> None:
    """A thousand times the same vehicle and owner, in the first six weeks, before any cut."""
    rng, listed, value = np.random.default_rng(8), date(2030, 3, 1), np.log(20_000.0)
    drawn = [_stay(rng, value=value, guess=value, listed=listed, last=date(2033, 1, 1)) for _ in range(3_000)]
    chances = []
    for row in drawn:
        ask = row["asks"][0][1]
        plan = Plan(np.log([ask] * CUT_WEEKS), float(np.log(FLOOR * ask)))
        chances.append(true_chance(np.array([value]), plan=plan, listed=listed)[0, -1])
    sold = np.mean([row["end"] == "sold" and row["exposed_days"] <= 7 * CUT_WEEKS for row in drawn])
    spread = np.sqrt(np.mean(np.array(chances) * (1 - np.array(chances))) / len(drawn))
    assert abs(sold - np.mean(chances)) < 3.5 * spread
