"""`TimeToSale`: what it learns from stays, and scikit-learn's contract."""

import json
from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose
from scipy.special import expit
from sklearn.base import clone

from tests.valuation.selling_lot import fitted_stays, stays
from valuation import BadInput, BadStore, NotFitted
from valuation.latent import TAIL
from valuation.simulate_stays import DRAWN, INQUIRIES
from valuation.time_to_sale import CAUSES, LATEST, LEAST_INTEREST, TimeToSale, selling_from_dict
from valuation.unseen import read_positions


def few() -> pd.DataFrame:
    return stays().iloc[:15]


def test_curve_is_kaplan_meier_of_statsmodels() -> None:
    survfunc = pytest.importorskip(
        "statsmodels.duration.survfunc", reason="statsmodels is what this is checked against"
    )
    frame = stays()
    sold = frame["end"].eq("sold")
    through = np.where(frame["end"].eq("listed"), frame["exposed_days"] // 7, np.ceil(frame["exposed_days"] / 7))
    reference = survfunc.SurvfuncRight(through[through > 0], sold[through > 0].astype(int))
    curve = np.array(fitted_stays().curve_)
    assert_allclose(curve[:, 0], reference.surv_times)
    assert_allclose(curve[:, 1], reference.surv_prob, atol=1e-10)


def test_fit_counts_what_it_read() -> None:
    model, frame = fitted_stays(), stays()
    assert (model.stays_used_, model.sold_, model.taken_) == (
        len(frame), frame["end"].eq("sold").sum(), frame["end"].eq("withdrawn").sum(),
    )  # fmt: skip
    assert model.enough_
    assert model.notes_ == []
    assert 0 < model.own_share_ < 1
    assert model.asked_range_[0] < 1 < model.asked_range_[1]


@pytest.mark.parametrize(
    "changed",
    [
        lambda frame: frame[frame["end"] != "withdrawn"],
        lambda frame: frame[frame["end"] == "sold"],
        lambda frame: frame[frame["end"] == "sold"].assign(exposed_days=3.0),
        lambda frame: frame.assign(make="one", build_class=None),
        lambda frame: frame.assign(price=np.nan, best_offer=np.nan),
        lambda frame: frame.assign(followed=True),
        lambda frame: frame.assign(sd=1e-6),
        lambda frame: frame.assign(likely=20_000.0),
        lambda frame: frame.assign(asks=[((0, likely),) for likely in frame["likely"]]),
        lambda frame: frame.assign(price=frame["price"].where(frame["end"] != "sold", 1.5 * frame["likely"])),
    ],
    ids=["none taken back", "all sold", "all in week 1", "one make", "no prices", "all followed", "sure", "one price",
         "all asked the likely", "sold above the ask"],
)  # fmt: skip
def test_one_sided_lots_are_learned_from_with_finite_figures(
    changed: Callable[[pd.DataFrame], pd.DataFrame],
) -> None:
    model = TimeToSale().fit(changed(stays().iloc[:90]))
    assert model.enough_
    assert np.isfinite(model.latent_.vector).all()
    assert np.isfinite(model.latent_.covariance).all()
    for cause in CAUSES:
        chance = expit(model.leaving_[cause].odds)
        assert ((chance > 0) & (chance < 0.5)).all()


def test_steeper_truth_is_found_steeper() -> None:
    """The same stays, but as if the dear half had never sold."""
    frame = stays()
    ratio = np.array([pairs[0][1] for pairs in frame["asks"]]) / frame["likely"]
    dear = ratio > ratio.median()
    flipped = frame.assign(end=np.where(dear, "listed", frame["end"]), exposed_days=np.where(dear, 180.0, 14.0))
    steeper = TimeToSale().fit(flipped).latent_.tail["log_steep"]
    assert steeper > fitted_stays().latent_.tail["log_steep"] + 0.1


def test_interest_is_counted_and_below_enough_counts_is_said_and_left_out() -> None:
    frame = stays().iloc[:90]
    counted = np.arange(len(frame)) < LEAST_INTEREST - 1
    few_, none, all_ = (
        TimeToSale().fit(frame.assign(interest=interest))
        for interest in (frame["interest"].where(counted), np.nan, frame["interest"])
    )
    assert 0 < few_.interest_stays_ < LEAST_INTEREST <= all_.interest_stays_ <= len(frame)
    assert (none.interest_stays_, none.notes_, all_.notes_) == (0, [], [])
    assert few_.notes_ == [
        f"inquiries and showings were counted for {few_.interest_stays_} stays: 30 are needed before they tell anything"
    ]
    assert np.array_equal(few_.latent_.vector, none.latent_.vector)


def test_what_draws_inquiries_is_found_on_a_lot_whose_truth_is_known() -> None:
    """1.2 a week at an ask equal to the value, a power of 4 in the ask: `simulate_stays` writes it down."""
    model = fitted_stays()
    doubt = np.sqrt(np.diag(model.latent_.covariance))[model.columns_.width :]
    for name, truth in (("log_interest", np.log(INQUIRIES)), ("log_drawn", np.log(DRAWN))):
        assert abs(model.latent_.tail[name] - truth) < 3 * doubt[TAIL.index(name)]


def test_stay_of_more_than_five_years_is_said_and_not_ended() -> None:
    frame = stays()
    place = frame.index[frame["end"] == "sold"][0]
    frame.loc[place, "exposed_days"] = 2_000.0
    model = TimeToSale().fit(frame)
    assert model.notes_ == ["1 stays of more than 260 weeks are read up to there, as not ended by then"]
    assert model.sold_ == fitted_stays().sold_ - 1


def test_too_few_stays_are_a_result_and_not_an_error() -> None:
    model = TimeToSale().fit(few())
    assert not model.enough_
    assert "20 that ended and 12 sold are needed" in model.notes_[0]
    with pytest.raises(NotFitted, match="enough"):
        read_positions(model, pd.DataFrame(), coverage=0.8)


def test_no_stays_at_all_are_too_few() -> None:
    assert not TimeToSale().fit(stays().assign(likely=np.nan)).enough_


def test_stays_before_a_likely_price_are_counted_and_tell_nothing() -> None:
    frame = stays()
    blind = frame.iloc[:30].assign(likely=np.nan, sd=np.nan)
    model = TimeToSale().fit(pd.concat([blind, frame.iloc[30:]]))
    assert model.notes_ == ["30 stays are from before there was a likely price, and tell nothing of asks"]
    assert model.to_dict() | {"notes": []} == TimeToSale().fit(frame.iloc[30:]).to_dict()


def test_only_the_latest_stays_are_read() -> None:
    many = pd.concat([stays().assign(listed_on="2020-01-01"), *[stays().assign(end="listed")] * 5], ignore_index=True)
    model = TimeToSale().fit(many)  # the sold are the old ones
    assert (model.stays_used_, model.sold_) == (LATEST, 0)
    assert model.notes_[0] == f"the last {LATEST} stays are read, of 1200"


def test_estimator_keeps_scikit_learns_contract() -> None:
    frame, model = stays(), clone(fitted_stays())
    assert not hasattr(model, "enough_")
    with pytest.raises(NotFitted):
        model.to_dict()
    with pytest.raises(NotFitted):
        model.check_fitted()
    assert model.fit(frame) is model
    assert model.get_params() == {"words": ("build_class", "make")}
    pd.testing.assert_frame_equal(frame, stays())
    assert model.to_dict() == fitted_stays().to_dict()


def test_refit_forgets_what_was_learned_before() -> None:
    again = clone(fitted_stays()).fit(stays()).fit(few())
    assert vars(again) == vars(TimeToSale().fit(few()))
    assert not hasattr(again, "latent_")


def test_order_of_rows_does_not_matter() -> None:
    shuffled = TimeToSale().fit(stays().sample(frac=1.0, random_state=3))
    assert_allclose(shuffled.latent_.vector, fitted_stays().latent_.vector, atol=2e-3)


@pytest.mark.parametrize("model", [fitted_stays, lambda: TimeToSale().fit(few())], ids=["enough", "too few"])
def test_stored_fit_comes_back_to_the_last_digit(model: Callable[[], TimeToSale]) -> None:
    stored = json.loads(json.dumps(model().to_dict()))
    assert selling_from_dict(stored).to_dict() == model().to_dict()


def test_store_that_is_none_is_refused() -> None:
    good = fitted_stays().to_dict()
    for bad in ({}, good | {"version": 1}, good | {"vector": None}, {k: v for k, v in good.items() if k != "curve"}):
        with pytest.raises(BadStore):
            selling_from_dict(bad)


@pytest.mark.parametrize("name", ["likely", "sd", "listed_on", "make", "followed", "asks"])
def test_missing_column_is_refused_by_name(name: str) -> None:
    with pytest.raises(BadInput, match=f"'{name}'"):
        TimeToSale().fit(stays().drop(columns=name))
