"""Sales elsewhere on their way through the library: weighed apart in the fit, told apart in the grid."""

from datetime import date
from decimal import Decimal
from functools import cache
from typing import Any

import pandas as pd
import pytest

from inventory.bridge import Learned, back_test, compare, learn
from inventory.bridge.elsewhere import elsewhere_of, id_of, learned_of
from inventory.rules.money import total
from inventory.rules.track_record import Plan
from valuation import PriceModel
from valuation.simulate_elsewhere import simulate_elsewhere

Rows = tuple[dict[str, Any], ...]


def plain(frame: pd.DataFrame) -> list[dict[str, Any]]:
    rows = frame.astype(object).where(frame.notna(), None).to_dict("records")
    return [{str(name): value for name, value in row.items()} for row in rows]


@cache
def lots() -> tuple[Rows, Rows, Learned]:
    """Own sales and sales elsewhere as rows of the history; their ids are the same numbers."""
    drawn = simulate_elsewhere(24, count=60, ending_on=date(2030, 6, 30), bias_percent=20, bid_share=0.3, seed=9)
    own = tuple(
        row | {"id": place, "effective_price": Decimal(f"{price:.2f}")}
        for place, (row, price) in enumerate(zip(plain(drawn.inputs), drawn.price, strict=True))
    )
    there = drawn.elsewhere
    said = zip(plain(there.frame), there.price, there.kind, there.source, strict=True)
    others = tuple(
        row | {"id": place, "price": Decimal(f"{price:.2f}"), "kind": kind, "source": source}
        for place, (row, price, kind, source) in enumerate(said)
    )
    learned = learn(own, prices=[row["effective_price"] for row in own], coverage_percent=80, elsewhere=others)
    return own, others, learned


def test_learned_says_count_weight_and_offset_by_kind() -> None:
    learned = lots()[2].elsewhere
    assert (learned["used"], learned["count"], learned["gain"] > 0) == (True, 60, True)
    assert [kind["kind"] for kind in learned["kinds"]] == ["bid", "sold"]
    assert sum(kind["count"] for kind in learned["kinds"]) == 60
    for kind in learned["kinds"]:
        assert 0 < kind["weight"] <= 1
        assert kind["low_percent"] < kind["offset_percent"] < kind["high_percent"]


def test_none_elsewhere_says_nothing() -> None:
    assert elsewhere_of([]) is None
    assert learned_of(PriceModel(date=None, nested=("make",)).fit(pd.DataFrame({"make": ["Tarn"]}), [9000])) == {}


def test_ids_of_both_kinds_stay_apart_and_lines_add_up() -> None:
    own, others, learned = lots()
    found = compare({**own[3], "id": None}, sales=own, elsewhere=others, state=learned.state, count=60).comparables
    assert {sale.outcome is None for sale in found} == {True, False}
    for sale in found:
        place = sale.outcome if sale.elsewhere is None else sale.elsewhere
        assert place is not None
        row = own[place] if sale.elsewhere is None else others[place]
        assert sale.sale_price == row.get("effective_price", row.get("price"))
        assert sale.sale_price + total(line.amount for line in sale.lines) == sale.adjusted_price
        where = next(line.amount for line in sale.lines if line.name == "elsewhere")
        assert (where == 0) == (sale.elsewhere is None)


def test_fit_without_them_has_none_in_its_grid() -> None:
    own, others, _ = lots()
    bare = learn(own, prices=[row["effective_price"] for row in own], coverage_percent=80)
    found = compare(own[0], sales=own, elsewhere=others, state=bare.state, count=60)
    assert len(found.comparables) == 24
    assert bare.elsewhere == {}
    assert compare(own[0], sales=[], elsewhere=others, state=bare.state).comparables == ()


@pytest.mark.parametrize("label", [7, "subject", ("a", 1)])
def test_no_other_label_is_that_of_a_sale_elsewhere(label: object) -> None:
    assert id_of(label) is None
    assert id_of("elsewhere 7") == 7


def test_back_test_never_counts_them_and_takes_those_of_before() -> None:
    own, others, _ = lots()
    ordered = sorted(own, key=lambda row: row["ended_on"])
    asked: dict[str, Any] = {
        "prices": [row["effective_price"] for row in ordered],
        "plan": Plan(20, 4),
        "coverage_percent": 80,
    }
    with_them = back_test(ordered, elsewhere=others[:20], **asked)
    without = back_test(ordered, **asked)
    assert [sale["outcome"] for sale in with_them.sales] == [sale["outcome"] for sale in without.sales]
    assert [sale["fitted_on"] for sale in with_them.sales] == [20] * 4
    assert with_them.sales != without.sales
