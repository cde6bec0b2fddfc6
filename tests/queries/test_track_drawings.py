"""Where marks stand: inside the plot, in order, and where the figure says."""

from datetime import date, timedelta
from decimal import Decimal

from inventory.queries.track_drawings import (
    BOTTOM,
    LEFT,
    RIGHT,
    TOP,
    Sale,
    draw_bands,
    draw_coverage,
    draw_drift,
)

FIRST = date(2024, 1, 1)


def sale(place: int = 0, *, actual: str = "100", low: str = "80", high: str = "125", inside: bool = True) -> Sale:
    amounts = {"low": Decimal(low), "likely": Decimal(100), "high": Decimal(high), "actual": Decimal(actual)}
    return Sale(on=FIRST + timedelta(days=place), name=f"sale {place}", inside=inside, **amounts)


def test_likely_price_stands_on_the_line_of_100_percent() -> None:
    found = draw_bands([sale()])
    (main,) = [tick for tick in found.ticks if not tick.plain]
    assert (main.label, found.bars[0].dot) == ("100 %", main.place)
    assert found.bars[0].top < main.place < found.bars[0].top + found.bars[0].height


def test_doubled_and_halved_prices_stand_equally_far_from_likely() -> None:
    double, half = draw_bands([sale(actual="200", inside=False), sale(1, actual="50", inside=False)]).bars
    middle = draw_bands([sale(actual="200"), sale(1, actual="50"), sale(2)]).bars[2].dot
    assert abs((middle - double.dot) - (half.dot - middle)) <= 1


def test_newest_sale_is_on_the_right_and_all_are_in_the_plot() -> None:
    bars = draw_bands([sale(place, actual=str(20 + place * 9)) for place in range(120)]).bars
    assert [bar.x for bar in bars] == sorted({bar.x for bar in bars})
    assert all(LEFT <= bar.x <= RIGHT for bar in bars)
    assert all(bar.top >= TOP and bar.top + bar.height <= BOTTOM and TOP <= bar.dot <= BOTTOM for bar in bars)


def test_a_price_ten_times_too_high_widens_the_scale_instead_of_leaving_it() -> None:
    found = draw_bands([sale(actual="1000", inside=False), sale(1)])
    assert found.bars[0].dot == TOP
    assert "1000 %" in [tick.label for tick in found.ticks]


def test_a_band_from_nothing_cannot_be_drawn() -> None:
    assert draw_bands([sale(low="0.00")]).bars == ()
    assert len(draw_bands([sale(low="0.00"), sale(1)]).bars) == 1


def test_running_share_ends_at_the_last_share_between_what_chance_leaves() -> None:
    shares = [Decimal(1), Decimal("0.5")]
    found = draw_coverage(shares, expected=[(0.0, 1.0), (0.5, 1.0)], stated=Decimal("0.8"), sales=[sale(), sale(1)])
    ends = [tuple(map(int, point.split(","))) for point in found.points.split()]
    assert [y for _, y in ends] == [TOP, (TOP + BOTTOM + 1) // 2]
    assert len(found.space.split()) == 4
    assert [tick.label for tick in found.ticks if not tick.plain] == ["80 %"]
    assert "75 %" not in [tick.label for tick in found.ticks]  # it would run into the 80


def test_no_sale_draws_nothing() -> None:
    assert draw_coverage([], expected=[], stated=Decimal("0.8"), sales=[]).points == ""
    assert draw_drift([(FIRST, Decimal(0))]).points == ""


def test_drift_is_drawn_to_scale_in_time_and_percent() -> None:
    days = [FIRST, FIRST + timedelta(days=50), FIRST + timedelta(days=200)]
    found = draw_drift(list(zip(days, [Decimal(-12), Decimal(3), Decimal(0)], strict=True)))
    places = [tuple(map(int, point.split(","))) for point in found.points.split()]
    assert places[0][0] == LEFT
    assert places[2][0] == RIGHT
    assert abs((places[1][0] - LEFT) * 4 - (RIGHT - LEFT)) <= 4
    (today,) = [tick for tick in found.ticks if not tick.plain]
    assert places[2][1] == today.place
    assert [tick.label for tick in found.ticks] == ["−15 %", "−10 %", "−5 %", "0 %", "+5 %"]


def test_a_market_that_stands_still_is_a_flat_line() -> None:
    found = draw_drift([(FIRST, Decimal(0)), (FIRST + timedelta(days=9), Decimal(0))])
    heights = {point.split(",")[1] for point in found.points.split()}
    assert len(heights) == 1
