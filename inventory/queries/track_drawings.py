"""The drawings of the track record, in their own units: where each band, dot, line and label stands."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from inventory.rules.track_record import signed

LEFT, RIGHT, TOP, BOTTOM = 120, 985, 20, 440  # of the plot, in a drawing of 1000 × 500; labels stand outside it
ONE = Decimal(1)
FINE = tuple(Decimal(text) for text in ("0.5", "0.67", "0.8", "1", "1.25", "1.5", "2"))
COARSE = tuple(Decimal(text) for text in ("0.01", "0.02", "0.05", "0.1", "0.2", "0.5", "1", "2", "5", "10", "20", "50"))
STEPS = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)  # percent between two lines of the drift
MARK = 8  # half the size of a dot


@dataclass(frozen=True)
class Tick:
    """One line across the plot, or one label below it."""

    place: int
    label: str
    anchor: str = "end"
    plain: bool = True  # False: the line that the drawing is about


@dataclass(frozen=True)
class Sale:
    """One back-tested sale that had a band, in money; `name` is what is read out of it."""

    on: date
    name: str
    low: Decimal
    likely: Decimal
    high: Decimal
    actual: Decimal
    inside: bool


@dataclass(frozen=True)
class Bar:
    """One sale: its band from `top` down, and the price as a dot, or as a diamond where it fell outside."""

    x: int
    top: int
    height: int
    dot: int
    diamond: str
    inside: bool
    title: str


@dataclass(frozen=True)
class Bands:
    bars: tuple[Bar, ...]
    ticks: tuple[Tick, ...]
    days: tuple[Tick, ...]


@dataclass(frozen=True)
class Curve:
    """A line over the sales or over time, with the space that is to be expected where there is one."""

    points: str
    space: str
    ticks: tuple[Tick, ...]
    days: tuple[Tick, ...]


def draw_bands(sales: Sequence[Sale]) -> Bands:
    """Every sale with a band, oldest on the left: what was paid, in percent of what was thought likely."""
    drawn = [sale for sale in sales if min(sale.low, sale.likely, sale.actual) > 0]
    if not drawn:
        return Bands((), (), ())
    ends = [amount / sale.likely for sale in drawn for amount in (sale.low, sale.high, sale.actual)]
    least, most = min(*ends, Decimal("0.8")), max(*ends, Decimal("1.25"))
    wide = most.ln() - least.ln()

    def y(share: Decimal) -> int:
        return _whole(BOTTOM - (share.ln() - least.ln()) / wide * (BOTTOM - TOP))

    bars = tuple(
        _bar(sale, x=x, dot=y(sale.actual / sale.likely), top=y(sale.high / sale.likely), end=y(sale.low / sale.likely))
        for sale, x in zip(drawn, _spread(len(drawn)), strict=True)
    )
    shares = [share for share in (FINE if wide < Decimal("4.5").ln() else COARSE) if least <= share <= most]
    ticks = tuple(Tick(y(share), f"{share * 100:.0f} %", plain=share != ONE) for share in shares)
    return Bands(bars, ticks, _ends_of(drawn[0].on, drawn[-1].on))


def _bar(sale: Sale, *, x: int, dot: int, top: int, end: int) -> Bar:
    diamond = f"{x - MARK},{dot} {x},{dot - MARK} {x + MARK},{dot} {x},{dot + MARK}"
    return Bar(x, top, max(end - top, 1), dot, diamond, sale.inside, sale.name)


def draw_coverage(
    shares: Sequence[Decimal], *, expected: Sequence[Sequence[float]], stated: Decimal, sales: Sequence[Sale]
) -> Curve:
    """The share inside the band after each sale, and between what chance would leave it."""
    if not shares:
        return Curve("", "", (), ())
    places = _spread(len(shares))
    lows = [(x, _of_hundred(Decimal(str(low)))) for x, (low, _) in zip(places, expected, strict=True)]
    highs = [(x, _of_hundred(Decimal(str(high)))) for x, (_, high) in zip(places, expected, strict=True)]
    line = [(x, _of_hundred(share)) for x, share in zip(places, shares, strict=True)]
    quarters = [Decimal(n) / 4 for n in range(5)]
    ticks = [
        Tick(_of_hundred(share), f"{share * 100:.0f} %") for share in quarters if abs(share - stated) > Decimal("0.1")
    ]
    ticks.append(Tick(_of_hundred(stated), f"{stated * 100:.0f} %", plain=False))
    return Curve(_points(line), _points([*lows, *reversed(highs)]), tuple(ticks), _ends_of(sales[0].on, sales[-1].on))


def draw_drift(drift: Sequence[tuple[date, Decimal]]) -> Curve:
    """The market over time in percent against the last day."""
    if len(drift) < 2:
        return Curve("", "", (), ())
    first, last = drift[0][0], drift[-1][0]
    values = [percent for _, percent in drift]
    bottom, top = min(*values, Decimal(0)), max(*values, Decimal(0))
    step = next((step for step in STEPS if (top - bottom) / step <= 5), STEPS[-1])
    least, most = (bottom // step - (bottom < 0)) * step, (top // step + 1) * step  # // cuts towards 0

    def y(percent: Decimal) -> int:
        return _whole(BOTTOM - (percent - least) / (most - least) * (BOTTOM - TOP))

    def x(day: date) -> int:
        return _whole(LEFT + Decimal((day - first).days) / (last - first).days * (RIGHT - LEFT))

    lines = [Decimal(value) for value in range(int(least), int(most) + 1, step)]
    ticks = tuple(Tick(y(value), signed(value), plain=value != 0) for value in lines)
    return Curve(_points([(x(day), y(percent)) for day, percent in drift]), "", ticks, _ends_of(first, last))


def _spread(count: int) -> list[int]:
    """Places from left to right with half a step of room at either end."""
    return [_whole(LEFT + (RIGHT - LEFT) * (Decimal(n) + Decimal("0.5")) / count) for n in range(count)]


def _of_hundred(share: Decimal) -> int:
    return _whole(BOTTOM - share * (BOTTOM - TOP))


def _ends_of(first: date, last: date) -> tuple[Tick, ...]:
    return Tick(LEFT, str(first), "start"), Tick(RIGHT, str(last), "end")


def _points(places: Sequence[tuple[int, int]]) -> str:
    return " ".join(f"{x},{y}" for x, y in places)


def _whole(place: Decimal) -> int:
    return int(place + Decimal("0.5"))
