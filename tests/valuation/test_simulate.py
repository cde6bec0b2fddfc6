"""The invented lot is what its text says it is."""

from datetime import date

import numpy as np
import pytest

from valuation import BadOption
from valuation.simulate import COLUMNS, MAKES, MODELS, Simulated, as_inputs, serials, simulate

ENDING = date(2030, 6, 30)


@pytest.fixture(scope="module")
def drawn() -> Simulated:
    return simulate(4000, ending_on=ENDING, seed=2)


def test_columns_are_those_of_the_book(drawn: Simulated) -> None:
    assert tuple(drawn.sales.columns) == COLUMNS
    assert len(COLUMNS) == 26


def test_equal_seeds_draw_equal_rows() -> None:
    first, again, other = (simulate(30, ending_on=ENDING, seed=seed).sales for seed in (4, 4, 5))
    assert first.equals(again)
    assert not first.equals(other)


def test_sold_rows_have_a_price_and_withdrawn_ones_a_reason(drawn: Simulated) -> None:
    sold = drawn.sales["result"] == "sold"
    assert sold.sum() == 4000
    assert (~sold).sum() == 572
    assert (drawn.sales["price"].notna() == sold).all()
    assert (drawn.sales["reason"].notna() == ~sold).all()


def test_dates_follow_each_other(drawn: Simulated) -> None:
    book = drawn.sales
    assert (book["arrived_on"] < book["listed_on"]).all()
    assert (book["listed_on"] < book["ended_on"]).all()
    assert book["ended_on"].is_monotonic_increasing
    assert book["ended_on"].max().date() <= ENDING
    assert (book["ended_on"].max() - book["ended_on"].min()).days == pytest.approx(6 * 365.25, abs=5)


def test_asks_never_end_below_the_price(drawn: Simulated) -> None:
    sold = drawn.sales[drawn.sales["result"] == "sold"]
    assert (sold["last_ask"] >= sold["price"]).all()
    assert (drawn.sales["first_ask"] >= drawn.sales["last_ask"]).all()


def test_shares_missing_are_as_written(drawn: Simulated) -> None:
    book = drawn.sales
    old = (book["ended_on"].max() - book["ended_on"]).dt.days > 2 * 365.25
    assert book.loc[old, "condition"].isna().mean() == pytest.approx(0.85, abs=0.02)
    assert book.loc[~old, "condition"].isna().mean() == pytest.approx(0.25, abs=0.035)
    assert book.loc[old, "originality"].isna().mean() == pytest.approx(0.90, abs=0.02)
    assert book["mileage"].isna().mean() == pytest.approx(0.12, abs=0.02)


def test_noise_and_wrong_rows_are_as_written(drawn: Simulated) -> None:
    sold = (drawn.sales["result"] == "sold").to_numpy()
    error = np.log(drawn.sales["price"].to_numpy()[sold] / drawn.truth["median"].to_numpy()[sold])
    wrong = drawn.truth["wrong"].to_numpy()[sold]
    assert error[~wrong].std() == pytest.approx(0.13, abs=0.006)
    assert abs(np.median(error)) < 0.01
    assert np.abs(error[wrong]).mean() == pytest.approx(0.9, abs=0.05)
    assert wrong.mean() == pytest.approx(0.03, abs=0.01)


def test_better_condition_is_worth_more_in_the_truth(drawn: Simulated) -> None:
    known = drawn.sales["condition"].notna().to_numpy()
    points = drawn.sales["condition"].to_numpy()[known]
    assert np.corrcoef(points, np.log(drawn.truth["median"].to_numpy()[known]))[0, 1] > 0.1


def test_makes_are_fewer_than_twelve_with_five_models_each(drawn: Simulated) -> None:
    assert len(MAKES) == 10
    assert all(len(set(models)) == 5 for models in MODELS.values())
    assert set(drawn.sales["make"]) == set(MAKES)


def test_serials_are_right_and_no_two_alike(drawn: Simulated) -> None:
    """The check digit by the worked rule of 49 CFR 565.15: products by weight, sum modulo 11, X for 10."""
    vins = drawn.sales["vin"]
    assert vins.is_unique
    modern = vins[drawn.sales["year"] >= 1981]
    assert (modern.str.len() == 17).all()
    assert not modern.str.contains("[IOQ]").any()
    assert modern.str.startswith("1ZZ").all()
    worth = dict(
        zip(
            "0123456789ABCDEFGHJKLMNPRSTUVWXYZ",
            [*range(10), *range(1, 9), *range(1, 6), 7, 9, *range(2, 10)],
            strict=True,
        )
    )
    weights = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2]
    for vin in modern:
        total = sum(worth[sign] * weight for sign, weight in zip(vin, weights, strict=True))
        assert vin[8] == "0123456789X"[total % 11]
    assert drawn.sales.loc[drawn.sales["year"] < 1981, "vin"].str.len().max() < 12


def test_serials_agree_with_an_open_library() -> None:
    vininfo = pytest.importorskip("vininfo", reason="vininfo computes the check digit independently")
    for year in (1981, 1989, 1996, 2001, 2009, 2010, 2015):
        found = vininfo.Vin(serials(np.array([year]), make=np.array([1]))[0])
        assert found.verify_checksum()
        assert year in found.years


def test_inputs_count_modifications_by_kind(drawn: Simulated) -> None:
    inputs = as_inputs(drawn.sales)
    listed = drawn.sales["modifications"].str.split("; ").map(lambda kinds: len([kind for kind in kinds if kind]))
    counted = inputs[[name for name in inputs if name.startswith("mods_")]].sum(axis=1)
    assert (counted == listed).all()
    assert (inputs["condition_low"].fillna(-1) == drawn.sales["condition"].fillna(-1)).all()


def test_a_hundred_thousand_rows_are_quick() -> None:
    assert len(simulate(100_000, ending_on=ENDING).sales) == 114_286


@pytest.mark.parametrize("count", [0, -3])
def test_no_rows_are_refused(count: int) -> None:
    with pytest.raises(BadOption, match=f"count must be at least 1, got {count}"):
        simulate(count, ending_on=ENDING)


def test_a_share_out_of_range_is_refused() -> None:
    with pytest.raises(BadOption, match=r"wrong_share must be from 0 to 0\.5, got 0\.9"):
        simulate(3, ending_on=ENDING, wrong_share=0.9)


def test_a_turn_of_the_market_moves_prices_and_nothing_else() -> None:
    usual, turned = (simulate(800, ending_on=ENDING, seed=6, turn=turn) for turn in (None, (2.0, -0.15)))
    facts = [name for name in COLUMNS if name not in ("first_ask", "last_ask", "price")]
    assert usual.sales[facts].equals(turned.sales[facts])
    assert usual.truth["wrong"].equals(turned.truth["wrong"])
    added = np.log((turned.truth["median"] / usual.truth["median"]).to_numpy())
    ago = (np.datetime64(ENDING) - usual.sales["ended_on"]).dt.days.to_numpy() / 365.25
    assert added[ago > 2.01] == pytest.approx(0, abs=1e-12)
    assert added[ago < 1.49] == pytest.approx(-0.15, abs=1e-12)
    turning = (ago > 1.5) & (ago < 2)
    assert added[turning] == pytest.approx(-0.15 * (2 - ago[turning]) / 0.5, abs=0.002)  # dates are whole days
    sold = (usual.sales["result"] == "sold").to_numpy()
    expected = usual.sales["price"].to_numpy()[sold] * np.exp(added[sold])
    assert turned.sales["price"].to_numpy()[sold] == pytest.approx(expected, abs=50)  # both are whole fifties


@pytest.mark.parametrize("turn", [(0.0, -0.1), (6.5, -0.1), (2.0, float("nan"))])
def test_a_turn_out_of_range_is_refused(turn: tuple[float, float]) -> None:
    with pytest.raises(BadOption, match="turn must begin above 0 and at most 6 years before the end, got"):
        simulate(3, ending_on=ENDING, turn=turn)
