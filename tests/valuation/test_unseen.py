"""What weeks without a sale, a refused offer and the ask itself tell of a vehicle in stock."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.stats import norm

from tests.valuation.selling_lot import fitted_stays, moved, stand, stays
from valuation import BadInput
from valuation.time_to_sale import LEAST_INTEREST, TimeToSale
from valuation.unseen import EVIDENCE, OFFER_BELOW, OFFER_SD, read_positions, unseen_of, weighed

FAR = {"exposed_days": 180.0, "asks": ((0.0, 22_000.0),)}


def test_no_evidence_leaves_the_band_to_the_digit() -> None:
    found = moved()
    by = {"asked": 1.0, "weeks": 1.0, "interest": 1.0, "offers": 1.0}
    assert found == {"low": 18_000.0, "likely": 20_000.0, "high": 23_000.0, **by}


def test_ask_that_was_the_suggested_one_tells_nothing() -> None:
    assert moved(followed=True, asks=((0.0, 26_000.0),)) == moved()


def test_dear_first_ask_raises_the_band_and_a_cheap_one_lowers_it() -> None:
    dear, cheap = (moved(asks=((0.0, ask),)) for ask in (26_000.0, 17_000.0))
    assert dear["likely"] > 20_000 > cheap["likely"]
    assert dear["weeks"] == dear["interest"] == dear["offers"] == 1.0


@settings(max_examples=30, deadline=None)
@given(
    ask=st.floats(12_000, 40_000), low=st.floats(0.5, 1.0), high=st.floats(1.0, 2.0),
    offer=st.none() | st.floats(8_000, 40_000), followed=st.booleans(), interest=st.none() | st.integers(0, 200),
)  # fmt: skip
def test_more_weeks_without_a_sale_never_raise_the_band_and_it_stays_in_order(
    ask: float, low: float, high: float, offer: float | None, followed: bool, interest: int | None
) -> None:
    before: dict[str, float] | None = None
    for weeks in (0, 1, 2, 8, 30, 300) if interest is None else (1, 2, 8, 30, 300):
        days = np.timedelta64(7 * weeks, "D")
        now = moved(
            low=20_000 * low, high=20_000 * high, best_offer=offer or np.nan, followed=followed, asks=((0.0, ask),),
            exposed_days=7.0 * weeks, interest=interest, on=str(np.datetime64("2030-07-01") + days),
        )  # fmt: skip
        assert now["low"] <= now["likely"] * (1 + 1e-12)
        assert now["likely"] <= now["high"] * (1 + 1e-12)
        assert 20_000 * np.prod([now[name] for name in EVIDENCE]) == pytest.approx(now["likely"], rel=1e-10)
        if before is not None:
            assert all(now[name] <= before[name] * (1 + 1e-10) for name in ("low", "likely", "high"))
        before = now


@settings(max_examples=30, deadline=None)
@given(
    ask=st.floats(12_000, 40_000), low=st.floats(0.5, 1.0), high=st.floats(1.0, 2.0), weeks=st.integers(0, 100),
    offer=st.none() | st.floats(8_000, 40_000),
)  # fmt: skip
def test_more_inquiries_never_lower_the_band_and_it_stays_in_order(
    ask: float, low: float, high: float, weeks: int, offer: float | None
) -> None:
    before: dict[str, float] | None = None
    for count in (0, 1, 2, 7, 30, 400):
        now = moved(
            low=20_000 * low, high=20_000 * high, best_offer=offer or np.nan, asks=((0.0, ask),), interest=count,
            exposed_days=7.0 * weeks,
        )  # fmt: skip
        assert now["low"] <= now["likely"] * (1 + 1e-12)
        assert now["likely"] <= now["high"] * (1 + 1e-12)
        if before is not None:
            assert all(now[name] >= before[name] * (1 - 1e-10) for name in ("low", "likely", "high"))
        before = now


def test_many_inquiries_raise_the_band_and_none_lower_it() -> None:
    few, unknown, many = (moved(**FAR, interest=count)["likely"] for count in (0, None, 60))
    assert few < unknown < many


def test_inquiries_of_less_than_a_week_tell_nothing() -> None:
    assert moved(exposed_days=6.0, asks=((0.0, 22_000.0),), interest=9)["interest"] == 1.0


def test_lot_that_has_hardly_counted_hears_nothing_in_inquiries() -> None:
    frame = stays()
    frame["interest"] = frame["interest"].where(np.arange(len(frame)) < LEAST_INTEREST - 1)
    model = TimeToSale().fit(frame)
    assert moved(model, **FAR, interest=60) == moved(model, **FAR)


@pytest.mark.parametrize("band", [{"low": 20_000.0}, {"high": 20_000.0}, {"low": 19_000.0, "high": 30_000.0}])
def test_lopsided_band_stays_in_order_under_strong_evidence(band: dict[str, Any]) -> None:
    for offer in (12_000.0, 30_000.0):
        found = moved(**band, **FAR, best_offer=offer)
        assert found["low"] <= found["likely"] <= found["high"]


def test_weeks_before_a_first_ask_tell_nothing() -> None:
    assert moved(exposed_days=90.0) == moved()


def test_higher_offer_refused_raises_the_band() -> None:
    low, high = (moved(**FAR, best_offer=offer)["likely"] for offer in (15_000.0, 21_000.0))
    assert low < high


def test_sure_band_hardly_moves() -> None:
    found = moved(low=19_990.0, high=20_010.0, **FAR, best_offer=12_000.0)
    assert found["likely"] == pytest.approx(20_000, abs=1)


def test_offer_is_weighed_by_bayes_rule() -> None:
    """With a wide, even band and an offer alone: the product of two normals, which has a closed form."""
    model = fitted_stays()
    frame = stand(low=20_000 / np.exp(0.3), high=20_000 * np.exp(0.3), best_offer=19_000.0)
    found = unseen_of(model, read_positions(model, frame, coverage=0.8))
    spread = 0.3 / norm.ppf(0.9) / (1 + np.exp(-model.latent_.tail["share"]))
    seen = np.log(19_000 / 20_000) + OFFER_BELOW
    trust = spread**2 / (spread**2 + OFFER_SD**2)
    assert float(found.part[0] @ found.now[0]) == pytest.approx(trust * seen, abs=2e-3)


def test_weighed_chances_add_up_to_one_whatever_the_evidence() -> None:
    before = np.full((1, 3), 1 / 3)
    assert weighed(before, told=[np.array([[-5_000.0, -4_000.0, -1e6]])]).sum() == pytest.approx(1.0)


def test_positions_read_some_as_all() -> None:
    model, frame = fitted_stays(), stand(**FAR)
    both = read_positions(model, frame.loc[[0, 0]].set_axis(["a", "b"]), coverage=0.8)
    part = unseen_of(model, both.take(slice(1, 2)))
    assert_allclose(part.now[0], unseen_of(model, both).now[1])
    assert list(both.take(slice(1, 2)).index) == ["b"]


@pytest.mark.parametrize(
    ("changes", "name"),
    [
        ({"low": 21_000.0}, "likely"),
        ({"high": 19_000.0}, "likely"),
        ({"low": 0.0}, "low"),
        ({"exposed_days": -1.0}, "exposed_days"),
        ({"exposed_days": None}, "exposed_days"),
        ({"best_offer": 0.0}, "best_offer"),
        ({"interest": -1}, "interest"),
        ({"interest": 0.5}, "interest"),
        ({"on": None}, "on"),
        ({"asks": ((3.0, 20_000.0),)}, "asks"),
    ],
)
def test_position_that_cannot_be_is_refused_with_column_and_row(changes: dict[str, Any], name: str) -> None:
    with pytest.raises(BadInput, match=name) as refusal:
        read_positions(fitted_stays(), stand(**changes).set_axis([7]), coverage=0.8)
    assert (refusal.value.column, refusal.value.row) == (name, 7)


@pytest.mark.parametrize("name", ["make", "asks", "low", "on", "best_offer", "followed", "exposed_days"])
def test_missing_column_is_refused_by_name(name: str) -> None:
    with pytest.raises(BadInput, match=f"'{name}'"):
        read_positions(fitted_stays(), stand().drop(columns=name), coverage=0.8)
