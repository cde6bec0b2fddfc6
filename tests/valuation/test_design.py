"""The layout of the columns."""

import numpy as np
import pandas as pd
from numpy.testing import assert_allclose

from tests.valuation.histories import Lot
from valuation import PriceModel
from valuation.design import Design, Expanded, make_design
from valuation.missing import NODE_WEIGHTS, NODES
from valuation.reading import Roles, Table, read

ROLES = Roles(
    nested=("make", "model"),
    factors=("build",),
    smooth=("miles",),
    rising=("grade",),
    flags=("open", "tow"),
    freed=(("grade", "build", "Modified"),),
)


def frame() -> pd.DataFrame:
    rng = np.random.default_rng(0)
    return pd.DataFrame(
        {
            "make": ["Tarn"] * 15 + ["Merrow"] * 15,
            "model": ["Six", "Ghyll", None] * 10,
            "build": ["modified", "restored"] * 15,
            "miles": np.where(np.arange(30) % 7 == 0, np.nan, rng.uniform(0, 9, size=30)),
            "grade": rng.uniform(0, 100, size=30),
            "open": [0.0, 1.0, np.nan] * 10,
            "tow": [np.nan] * 30,
        }
    )


def design_and_rows() -> tuple[Table, Design, Expanded]:
    table = read(frame(), roles=ROLES)
    design = make_design(table, roles=ROLES, bends=True)
    return table, design, design.expand(table)


def test_blocks_lie_side_by_side() -> None:
    _, design, rows = design_and_rows()
    at = 0
    for block in design.blocks:
        assert block.start == at
        at += block.width
    assert at == design.width == rows.matrix.shape[1] == len(design.parts)


def test_each_category_has_one_column_per_value_and_none_where_missing() -> None:
    table, design, rows = design_and_rows()
    term = next(term for term in design.levels if term.name == "model")
    block = rows.matrix[:, term.start : term.start + len(term.keys)]
    assert len(term.keys) == 4
    assert_allclose(block.sum(axis=1), table.words["model"] != "")


def test_a_freed_row_leaves_the_rising_columns_empty() -> None:
    table, design, rows = design_and_rows()
    rising, freed = (term for term in design.numbers if term.name == "grade")
    modified = table.words["build"] == "modified"
    assert not rows.matrix[modified][:, rising.columns].any()
    assert not rows.matrix[~modified][:, freed.columns].any()
    assert rows.matrix[modified][:, freed.columns].all()


def test_missing_numbers_stand_as_the_average_of_what_they_may_have_been() -> None:
    table, design, rows = design_and_rows()
    term = next(term for term in design.numbers if term.name == "miles")
    guess = design.joint.guesses(table)["miles"]
    by_hand = [
        sum(w * term.basis.columns(mean + node * sd) for node, w in zip(NODES, NODE_WEIGHTS, strict=True))
        for mean, sd in zip(guess.mean, guess.sd, strict=True)
    ]
    assert_allclose(rows.matrix[guess.rows][:, term.columns], by_hand)


def test_a_gap_column_marks_the_missing() -> None:
    table, design, rows = design_and_rows()
    assert [gap.name for gap in design.gaps] == ["miles"]
    assert_allclose(rows.matrix[:, design.gaps[0].start], np.isnan(table.numbers["miles"]))


def test_a_flag_missing_everywhere_is_left_out_with_a_note() -> None:
    _, design, _ = design_and_rows()
    assert "tow" not in design.parts
    assert "tow is missing in every sale: it is not used" in design.notes


def test_a_number_that_never_differs_is_left_out_with_a_note() -> None:
    roles = Roles(smooth=("miles",), rising=("grade",))
    table = read(pd.DataFrame({"miles": [5.0, 5.0, np.nan], "grade": [7.0] * 3}), roles=roles)
    design = make_design(table, roles=roles, bends=True)
    assert design.notes == (
        "miles is the same in every sale that states it: it is not used",
        "grade is the same in every sale that states it: it is not used",
    )


def test_doubt_is_the_variance_of_the_effect_and_of_the_absent_categories() -> None:
    table, design, rows = design_and_rows()
    rng = np.random.default_rng(1)
    weights, variances = rng.normal(size=design.width), rng.uniform(1, 2, size=len(design.blocks))
    doubt = rows.doubt(weights, variances=variances)
    known = ~np.isnan(table.numbers["miles"]) & ~np.isnan(table.numbers["open"]) & (table.words["model"] != "")
    assert_allclose(doubt[known], 0, atol=1e-15)
    only_model = known.copy()
    only_model[:] = ~np.isnan(table.numbers["miles"]) & ~np.isnan(table.numbers["open"]) & (table.words["model"] == "")
    assert_allclose(doubt[only_model], variances[design.block_of("model")])


def test_a_design_never_looks_at_prices(lot: Lot, fitted: PriceModel) -> None:
    other = PriceModel(**fitted.get_params()).fit(lot.inputs, lot.price[::-1])
    assert other.design_.parts == fitted.design_.parts
    assert_allclose(other.design_.joint.correlation, fitted.design_.joint.correlation, atol=1e-12)
