"""Time to sale as it leaves the library: money, chances, and shares that add up."""

import json
from datetime import date
from decimal import Decimal
from functools import cache
from typing import Any

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inventory.bridge.selling import (
    Asking,
    Standing,
    glances_of,
    learn_selling,
    moved_of,
    prospects_of,
    selling_of,
)
from inventory.errors import Refused
from tests.valuation.selling_lot import fitted_stays, stays

Rows = tuple[dict[str, Any], ...]


@cache
def lot() -> tuple[Rows, Rows]:
    """Stays as `stays_for_fit` gives them, and those that sold as rows of the history."""
    frame = stays()
    rows = []
    for row in frame.drop(columns=["likely", "sd"]).to_dict("records"):
        plain = {
            str(name): None if not isinstance(value, tuple) and pd.isna(value) else value for name, value in row.items()
        }
        for name in ("price", "best_offer"):
            plain[name] = None if plain[name] is None else Decimal(f"{plain[name]:.2f}")
        asks = [(int(day), Decimal(f"{ask:.2f}")) for day, ask in row["asks"]]
        days = {name: row[name].date() for name in ("listed_on", "ended_on")}
        rows.append(plain | days | {"asks": asks, "arms_length": True, "exposed_days": int(row["exposed_days"])})
    sales = tuple(row | {"effective_price": row["price"]} for row in rows if row["end"] == "sold")
    return tuple(rows), sales


def learned(rows: Rows | None = None) -> dict[str, Any]:
    own, sales = lot()
    return learn_selling(own if rows is None else rows, sales=sales, coverage_percent=80)


@cache
def state() -> dict[str, Any]:
    found: dict[str, Any] = fitted_stays().to_dict()
    return found


def standing(**changes: Any) -> Standing:
    given_: dict[str, Any] = {
        "row": {"make": "Orrin", "build_class": "restored"}, "low": Decimal(18_000), "likely": Decimal(20_000),
        "high": Decimal(23_000), "coverage_percent": 80, "on": date(2030, 7, 1),
    }  # fmt: skip
    return Standing(**(given_ | changes))


def prospects(*ways: Asking, last_day: int = 180, floor: Decimal | None = None, **changes: Any) -> Any:
    return prospects_of(standing(**changes), ways=ways, days=(30, 60), last_day=last_day, floor=floor, state=state())


def test_rows_of_the_lot_are_learned_from_and_can_be_stored() -> None:
    found = learned(lot()[0][-110:])
    assert found["enough"]
    assert json.loads(json.dumps(found)) == found
    said = selling_of(found)
    assert said.enough
    assert said.sold == found["sold"]
    assert said.asked_low < 1 < said.asked_high


def test_price_of_a_sale_to_a_friend_is_not_read_as_a_price() -> None:
    own, _ = lot()
    place = max(place for place, row in enumerate(own) if row["end"] == "sold")
    friend = own[place] | {"arms_length": False}
    some, later = own[: place - 1], friend | {"asks": own[place]["asks"]}
    cheap, dear = (learned((*some[-110:], later | {"price": Decimal(price)})) for price in (100, 90_000))
    assert cheap == dear
    assert cheap["sold"] == 1 + sum(row["end"] == "sold" for row in some[-110:])


@pytest.mark.parametrize("rows", [(), "same day"], ids=["none", "listed today"])
def test_lot_without_exposure_learns_nothing_and_says_so(rows: Any) -> None:
    own, _ = lot()
    some = rows or ()
    if rows:
        some = tuple(row | {"exposed_days": 0, "end": "listed", "price": None} for row in own[:3])
    found = learned(some)
    assert found == {}
    assert not selling_of(found).enough


def test_lot_without_earlier_sales_has_too_few() -> None:
    own, _ = lot()
    found = learn_selling(own, sales=(), coverage_percent=80)
    said = selling_of(found)
    assert not said.enough
    assert "before there was a likely price" in said.notes[0]


def test_no_evidence_leaves_the_band_in_its_cents() -> None:
    found = moved_of([standing(), standing(coverage_percent=90)], state=state())
    for band in found:
        assert (band.low, band.likely, band.high) == (Decimal(18_000), Decimal(20_000), Decimal(23_000))
        assert band.by == {"asked": 1.0, "weeks": 1.0, "interest": 1.0, "offers": 1.0}


def test_inquiries_move_the_band_of_a_lot_that_counts_them() -> None:
    old = {"exposed_days": 60, "asks": ((0, Decimal(22_000)),)}
    none, unknown, many = moved_of([standing(**old, interest=count) for count in (0, None, 40)], state=state())
    assert none.likely < unknown.likely < many.likely
    assert (none.by["interest"] < 1, unknown.by["interest"], many.by["interest"] > 1) == (True, 1.0, True)


def test_rows_that_know_of_no_inquiries_are_learned_from_as_before() -> None:
    rows = tuple({name: value for name, value in row.items() if name != "interest"} for row in lot()[0][-110:])
    assert learned(rows)["interest_stays"] == 0
    assert learned(lot()[0][-110:])["interest_stays"] > 30


def test_each_standing_gets_its_own_band_back_whatever_its_coverage() -> None:
    old = {"exposed_days": 120, "asks": ((0, Decimal(24_000)),)}
    some = [standing(**old), standing(coverage_percent=90, **old), standing()]
    found = moved_of(some, state=state())
    assert found == [moved_of([one], state=state())[0] for one in some]
    assert found[2].likely == Decimal(20_000) > found[0].likely


@settings(max_examples=25, deadline=None)
@given(
    ask=st.decimals(500, 90_000, places=2), floor=st.none() | st.decimals(0, 30_000, places=2),
    last_day=st.integers(1, 1_500), step=st.none() | st.integers(1, 60),
)  # fmt: skip
def test_shares_add_up_to_one_exactly_and_none_is_negative(
    ask: Decimal, floor: Decimal | None, last_day: int, step: int | None
) -> None:
    way = Asking(ask=ask) if step is None else Asking(ask=ask, step_to=ask / 2, step_after_days=step)
    found = prospects(way, last_day=last_day, floor=floor)[0]
    assert sum(share for _, share in found.prices) + found.unsold == 1
    assert found.unsold >= 0
    assert all(share >= 0 for _, share in found.prices)
    assert all(price <= ask for price, _ in found.prices)


def test_sale_that_is_certain_in_six_places_leaves_no_share_below_nothing() -> None:
    keen = json.loads(json.dumps(state()))
    keen["vector"][-9] = 4.0  # buyers: 55 a week
    for ask in range(8_000, 9_500, 100):
        found = prospects_of(
            standing(), ways=[Asking(ask=Decimal(ask))], days=(30,), last_day=100, floor=Decimal(7_000), state=keen
        )[0]
        assert found.unsold >= 0
        assert sum(share for _, share in found.prices) + found.unsold == 1


def test_glance_says_in_short_what_the_prospects_say() -> None:
    ways = [Asking(ask=Decimal(19_000)), Asking(ask=Decimal(24_000))]
    short = glances_of(
        [standing(), standing(coverage_percent=90)], ways=[ways, ways], last_days=[180, 180],
        floors=[Decimal(15_000), None], state=state(),
    )[0]  # fmt: skip
    for glance, prospect in zip(short, prospects(*ways, floor=Decimal(15_000)), strict=True):
        assert glance.chance == pytest.approx(float(1 - prospect.unsold), abs=1e-5)
        assert (glance.days, glance.unsold_value) == (prospect.days, prospect.unsold_value)


def test_fit_of_another_version_is_refused_with_its_mend() -> None:
    with pytest.raises(Refused, match="another version") as refusal:
        moved_of([standing()], state={"version": 0})
    assert "manage.py fit" in str(refusal.value.mend)


def test_fit_that_has_none_says_so() -> None:
    assert selling_of({}).notes == ("the last fit has learned nothing of time to sale yet: fit it again",)
