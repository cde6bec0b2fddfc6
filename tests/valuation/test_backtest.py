"""Rolling origin: never a look ahead, the same for peers, and figures that can be worked out by hand."""

from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd
import pytest
from sklearn.base import BaseEstimator, RegressorMixin
from sklearn.compose import ColumnTransformer
from sklearn.dummy import DummyRegressor
from sklearn.linear_model import LinearRegression
from sklearn.pipeline import make_pipeline
from sklearn.preprocessing import OneHotEncoder

from tests.valuation.histories import Lot, drawn_lot
from valuation import BadInput, BadOption, PriceModel, backtest
from valuation.reading import Array

DAY = date(2024, 1, 1)
TRACK = {"date": "ended_on", "start": 45, "step": 15}


class Fixed(RegressorMixin, BaseEstimator):  # type: ignore[misc]
    """Answers the mean of what it was fitted on, with a band a tenth around it; silent below `least`."""

    def __init__(self, least: int = 0, coverage: float = 0.90) -> None:
        self.least = least
        self.coverage = coverage

    def fit(self, frame: pd.DataFrame, price: Array) -> "Fixed":
        self.mean_ = float(np.mean(price)) if len(frame) >= self.least else float("nan")
        return self

    def predict(self, frame: pd.DataFrame) -> Array:
        return np.full(len(frame), self.mean_)

    def band(self, frame: pd.DataFrame) -> pd.DataFrame:
        likely = self.predict(frame)
        return pd.DataFrame({"low": likely * 0.9, "likely": likely, "high": likely * 1.1}, index=frame.index)


def sales_on(*offsets: int) -> pd.DataFrame:
    return pd.DataFrame({"on": [(DAY + timedelta(days=offset)).isoformat() for offset in offsets]})


def plain_model() -> PriceModel:
    return PriceModel(nested=("make",), smooth=("year", "mileage"), rising=("condition",))


@pytest.fixture(scope="module")
def book() -> Lot:
    return drawn_lot(70, seed=11)


@pytest.fixture(scope="module")
def past(book: Lot) -> pd.DataFrame:
    return backtest(plain_model(), book.inputs, book.price, **TRACK).frame


def test_each_block_is_fitted_on_what_was_known_before_it() -> None:
    """By hand: means of 1; 1, 2; 1, 2, 3 against 2, 3 and 4."""
    found = backtest(Fixed(), sales_on(0, 1, 2, 3), [1.0, 2.0, 3.0, 4.0], date="on", start=1, step=1).frame
    assert found["fitted_on"].tolist() == [1, 2, 3]
    assert found["likely"].tolist() == [1.0, 1.5, 2.0]
    assert found["ratio"].tolist() == [0.5, 0.5, 0.5]
    assert found["error"].tolist() == [-0.5, -0.5, -0.5]
    assert found["inside"].tolist() == [False, False, False]
    assert found.index.tolist() == [1, 2, 3]


def test_a_sale_of_the_same_day_is_not_known_yet() -> None:
    frame = sales_on(0, 1, 1, 1, 2)
    found = backtest(Fixed(), frame, [10.0, 20.0, 30.0, 40.0, 50.0], date="on", start=2, step=1).frame
    assert found["fitted_on"].tolist() == [1, 1, 4]
    assert found["likely"].tolist() == [10.0, 10.0, 25.0]


def test_the_time_of_day_does_not_make_a_sale_known() -> None:
    frame = pd.DataFrame({"on": pd.to_datetime(["2024-01-01 09:00", "2024-01-02 09:00", "2024-01-02 17:00"])})
    assert backtest(Fixed(), frame, [1.0, 2.0, 3.0], date="on", start=2, step=1).frame["fitted_on"].tolist() == [1]


def test_until_stops_in_the_order_of_time() -> None:
    frame = sales_on(5, 0, 1, 2)
    found = backtest(Fixed(), frame, [9.0, 1.0, 2.0, 3.0], date="on", start=1, step=2, until=3).frame
    assert found["actual"].tolist() == [2.0, 3.0]


def test_permuting_the_rows_changes_nothing(book: Lot, past: pd.DataFrame) -> None:
    order = np.random.default_rng(5).permutation(len(book.price))
    again = backtest(plain_model(), book.inputs.iloc[order], book.price[order], **TRACK).frame
    pd.testing.assert_frame_equal(again, past, check_exact=True)


def test_altering_or_dropping_later_rows_changes_nothing_before_them(book: Lot, past: pd.DataFrame) -> None:
    in_time = book.inputs["ended_on"].argsort(kind="stable").to_numpy()
    late = in_time[60:]
    price = book.price.copy()
    price[late] *= 3.0
    inputs = book.inputs.copy()
    inputs.iloc[late, inputs.columns.get_loc("year")] = 1999.0
    early = past[past["block"] == 0]
    altered = backtest(plain_model(), inputs, price, **TRACK).frame
    dropped = backtest(plain_model(), book.inputs.iloc[in_time[:60]], book.price[in_time[:60]], **TRACK).frame
    pd.testing.assert_frame_equal(altered[altered["block"] == 0], early, check_exact=True)
    pd.testing.assert_frame_equal(dropped, early, check_exact=True)
    assert not np.allclose(altered["actual"], past["actual"])


def test_the_model_given_is_left_as_it_is() -> None:
    model = Fixed()
    backtest(model, sales_on(0, 1), [1.0, 2.0], date="on", start=1, step=1)
    assert not hasattr(model, "mean_")


def test_a_peer_in_a_pipeline_has_estimates_and_no_band(book: Lot) -> None:
    columns = ColumnTransformer([("make", OneHotEncoder(handle_unknown="ignore"), ["make"])])
    found = backtest(make_pipeline(columns, LinearRegression()), book.inputs, book.price, **TRACK)
    figures = found.summary()
    assert found.frame["likely"].notna().all()
    assert found.frame["low"].isna().all()
    assert (figures.coverage, figures.hit_rate) == (None, 1.0)
    assert np.isnan(figures.interval_score)


def test_figures_by_hand() -> None:
    """Bands 0.9 to 1.1 of 10, then of 10 again: 10 and 11 fall inside (the end counts), 12 does not."""
    frame = sales_on(0, 1, 1, 1)
    found = backtest(Fixed(), frame, [10.0, 10.0, 11.0, 12.0], date="on", start=1, step=9).summary()
    assert found.coverage is not None
    assert (found.count, found.coverage.inside, found.stated) == (3, 2, 0.90)
    assert found.median_error == pytest.approx(1 / 11)
    width, miss = np.log(1.1 / 0.9), np.log(12 / 11)
    assert found.interval_score == pytest.approx(width + miss * 20 / 3)


def test_a_model_that_keeps_silent_is_told_by_its_hit_rate() -> None:
    found = backtest(Fixed(least=3), sales_on(0, 1, 2, 3), [1.0, 2.0, 3.0, 4.0], date="on", start=1, step=1)
    assert found.frame["likely"].isna().tolist() == [True, True, False]
    figures = found.summary()
    assert figures.hit_rate == pytest.approx(1 / 3)
    assert figures.ratios is None
    assert np.isnan(figures.prd_low)


def test_a_model_that_never_speaks_has_no_figures() -> None:
    figures = backtest(Fixed(least=9), sales_on(0, 1, 2), [1.0, 2.0, 3.0], date="on", start=1, step=1).summary()
    assert (figures.coverage, figures.ratios, figures.hit_rate) == (None, None, 0.0)
    assert np.isnan(figures.median_error)


def test_an_estimator_without_a_stated_coverage_is_taken_at_eighty() -> None:
    assert backtest(DummyRegressor(), sales_on(0, 1), [1.0, 2.0], date="on", start=1, step=1).stated == 0.80


def test_price_model_states_its_own_and_is_held_to_it(book: Lot, past: pd.DataFrame) -> None:
    assert past["fitted_on"].is_monotonic_increasing
    assert past["low"].notna().mean() > 0.5
    banded = past[past["low"].notna()]
    assert (banded["inside"] == banded["actual"].between(banded["low"], banded["high"])).all()
    assert backtest(plain_model().set_params(coverage=0.9), book.inputs, book.price, **TRACK).stated == 0.9


def test_rows_may_share_an_index_label() -> None:
    frame = sales_on(0, 1, 2).set_axis([7, 7, 7])
    found = backtest(Fixed(), frame, [1.0, 2.0, 3.0], date="on", start=1, step=5).frame
    assert found["date"].tolist() == frame["on"].tolist()[1:]


def test_progress_is_told_block_by_block() -> None:
    told: list[tuple[int, int]] = []
    backtest(
        Fixed(), sales_on(0, 1, 2, 3), [1.0, 2.0, 3.0, 4.0], date="on", start=1, step=2,
        progress=lambda done, total: told.append((done, total)),
    )  # fmt: skip
    assert told == [(0, 2), (1, 2), (2, 2)]


@pytest.mark.parametrize(
    ("given", "text"),
    [
        ({"start": 0}, "start must be a whole number of at least 1, got 0"),
        ({"step": 0}, "step must be a whole number of at least 1, got 0"),
        ({"start": 1.5}, "start must be a whole number"),
        ({"until": 1}, "until must be above start = 1, got 1"),
    ],
)
def test_options_out_of_range_are_refused(given: dict[str, Any], text: str) -> None:
    options: dict[str, Any] = {"date": "on", "start": 1, "step": 1, **given}
    with pytest.raises(BadOption, match=text):
        backtest(Fixed(), sales_on(0, 1, 2), [1.0, 2.0, 3.0], **options)


@pytest.mark.parametrize(
    ("frame", "start", "text"),
    [
        (sales_on(0, 1, 2), 3, "more than start = 3 sales"),
        (
            pd.DataFrame({"on": ["2024-01-01", None, "2024-01-03"]}),
            1,
            "on must be known of every sale, got none in row 1",
        ),
        (pd.DataFrame({"of": ["2024-01-01"] * 3}), 1, "must have the column 'on'"),
        (sales_on(4, 4, 4), 1, "on a day before the first block"),
    ],
)
def test_a_frame_that_cannot_be_tested_is_refused(frame: pd.DataFrame, start: int, text: str) -> None:
    with pytest.raises(BadInput, match=text):
        backtest(Fixed(), frame, [1.0, 2.0, 3.0], date="on", start=start, step=1)


def test_a_price_of_nothing_is_refused() -> None:
    with pytest.raises(BadInput, match="price must be positive"):
        backtest(Fixed(), sales_on(0, 1), [1.0, 0.0], date="on", start=1, step=1)
