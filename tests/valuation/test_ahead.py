"""The weeks ahead, laid out."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from tests.valuation.selling_lot import fitted_stays, stand
from valuation import BadOption
from valuation.ahead import Ahead, Plan, at_week, cut_off, days_on_offer, hazard_of, look_ahead, most_discount
from valuation.unseen import read_positions, unseen_of


def ahead(*plans: Plan, last_day: float = 70.0, **changes: object) -> Ahead:
    model = fitted_stays()
    positions = read_positions(model, stand(**changes), coverage=0.8)
    return look_ahead(
        model, positions, unseen=unseen_of(model, positions), plans=[plans], last_days=np.array([last_day])
    )


def test_each_week_has_the_ask_of_its_middle_and_a_cut_is_fresh_for_three() -> None:
    found = ahead(Plan(22_000, step_to=20_000, step_after_days=14), Plan(24_000), asks=((0.0, 23_000.0),))
    assert_allclose(np.exp(found.asks[0, 0]), [22_000] * 2 + [20_000] * 8)
    assert_array_equal(found.fresh[0, 0], [1, 1, 1, 1, 1, 0, 0, 0, 0, 0])  # below the ask that stood, then the step
    assert_array_equal(found.fresh[0, 1], np.zeros(10))


def test_recorded_cut_stays_as_fresh_as_it_was_when_it_was_weighed() -> None:
    weighed = ahead(Plan(22_000), exposed_days=40.0, asks=((0.0, 24_000.0),))
    recorded = ahead(Plan(22_000), exposed_days=40.0, asks=((0.0, 24_000.0), (40.0, 22_000.0)))
    later = ahead(Plan(22_000), exposed_days=50.0, asks=((0.0, 24_000.0), (40.0, 22_000.0)))
    raised = ahead(Plan(25_000), exposed_days=41.0, asks=((0.0, 24_000.0), (40.0, 25_000.0)))
    assert_array_equal(recorded.fresh, weighed.fresh)
    assert_array_equal(
        hazard_of(recorded, latent=recorded.model.latent_), hazard_of(weighed, latent=weighed.model.latent_)
    )
    assert_array_equal(later.fresh[0, 0], [1, 1, *[0] * 8])  # eleven days are left
    assert not raised.fresh.any()


@pytest.mark.parametrize("plan", [Plan(0), Plan(-1), Plan(20_000, step_to=0, step_after_days=3), Plan(20_000, 19_000)])
def test_what_is_no_plan_is_refused(plan: Plan) -> None:
    with pytest.raises(BadOption, match="later than today"):
        plan.check()


def test_agreement_that_has_ended_is_refused() -> None:
    with pytest.raises(BadOption, match="1 or more"):
        ahead(Plan(20_000), last_day=0)


def test_path_is_read_inside_a_week_and_parts_up_to_there_add_up_to_it() -> None:
    path = np.cumsum(np.arange(1.0, 5.0)).reshape(1, 1, 1, 4)  # 1 3 6 10
    for week, value in ((0.0, 0.0), (0.5, 0.5), (1.0, 1.0), (2.25, 3.75), (4.0, 10.0), (9.0, 10.0)):
        assert at_week(path, week=np.array([week]))[0, 0, 0] == value
        assert cut_off(path, week=np.array([week])).sum() == pytest.approx(value)


def test_days_on_offer_are_the_area_under_the_share_still_there() -> None:
    for last_day in (1.0, 10.0, 66.5):
        found = ahead(Plan(20_000), last_day=last_day)
        still = np.zeros_like(hazard_of(found, latent=found.model.latent_))
        whole = days_on_offer(found, hazard=still)[0, 0]
        assert 0.9 * last_day < whole <= last_day  # nothing sells; a few are taken back
        half = days_on_offer(found, hazard=still + 0.5)[0, 0]
        assert half < whole
    assert days_on_offer(ahead(Plan(20_000), last_day=1.0), hazard=still[..., :1] + 0.5)[0, 0] == pytest.approx(
        1 - 0.5 / 7 / 2, abs=2e-3
    )  # own arithmetic: a seventh of a week, half of it sold by the week's end


def test_discount_reaches_down_to_the_floor_or_to_half_of_the_ask() -> None:
    ask = np.log(np.array([20_000.0, 20_000.0, 15_000.0, 10_000.0]))
    floor = np.array([15_000.0, np.nan, 15_000.0, 15_000.0])
    assert_allclose(most_discount(ask, floor=floor), [np.log(4 / 3), np.log(2), 0, 0], atol=1e-12)
