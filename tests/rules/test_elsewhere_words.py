"""Sales elsewhere in words."""

from typing import Any

import pytest

from inventory.rules.comparison import differ, told
from inventory.rules.elsewhere_words import KINDS, kind_of, learned_said, mark, where_said
from inventory.rules.wording import part_name


def learned(**changes: Any) -> dict[str, Any]:
    kind = {
        "kind": "bid", "count": 120, "weight": 0.456,
        "offset_percent": -11.2, "low_percent": -16.4, "high_percent": -5.6,
    }  # fmt: skip
    return {"used": True, "count": 1200, "gain": 0.3, "kinds": [kind]} | changes


@pytest.mark.parametrize(
    ("sold", "premium", "kind"),
    [(True, "included", "sold_included"), (True, "not_said", "sold_not_said"), (False, "included", "bid")],
)
def test_kind_is_of_the_sale_or_the_bid(sold: bool, premium: str, kind: str) -> None:
    assert kind_of(sold=sold, premium=premium) == kind
    assert kind in KINDS


def test_a_bid_is_never_called_a_sale() -> None:
    assert mark("bid", source="the county hall") == "Bid not accepted, elsewhere: the county hall."
    assert mark("sold_none", source="the county hall") == "Sold elsewhere: the county hall."


def test_grid_line_says_where_each_was() -> None:
    ours, theirs = told("elsewhere", row={}), where_said("bid", source="the county hall")
    assert (ours, told("elsewhere", row={"where": theirs})) == ("by the lot", "the county hall: high bid, not accepted")
    assert differ(ours, theirs)
    assert part_name("elsewhere") == "Where it was sold"


def test_what_was_learned_names_weight_and_range() -> None:
    assert learned_said(learned()) == [
        "1,200 sales elsewhere count in it.",
        "High bid, not accepted (120): one counts as 0.46 of the lot's own, and stands 11 % below them "
        "(likely from -16 to -6 %).",
    ]


def test_left_out_is_said_and_none_says_nothing() -> None:
    assert learned_said({}) == []
    left = "1 sale elsewhere did not clearly help to tell the lot's own prices, and was left out."
    assert learned_said(learned(used=False, count=1)) == [left]
    level = learned(kinds=[learned()["kinds"][0] | {"offset_percent": 0.2}])
    assert "stands level with them" in learned_said(level)[1]
