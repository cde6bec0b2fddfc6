"""The pictures of the asks: three bands above each other, and the curve in three panels of one width."""

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from inventory.queries.ask_desk import Curve, Row
from inventory.queries.drawn_bands import Drawn, drawn
from inventory.queries.stays import OpinionSeen
from inventory.rules.ask_curve import axis_values
from inventory.rules.chances import chance_said
from inventory.rules.money import show_whole

# Of a panel, in its own units. The names of marked asks stand in lines of their own above it.
WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 600, 360, 114, 20, 96, 46
NAME_LINES = {"floor": 24, "ask now": 52, "suggested": 80}

Place = Callable[[Decimal], int]


@dataclass(frozen=True)
class Tick:
    at: int
    label: str


@dataclass(frozen=True)
class Mark:
    """An ask with a name: where its line stands, and where its name."""

    x: int
    y: int
    label: str
    anchor: str
    kind: str


@dataclass(frozen=True)
class Panel:
    """One drawing over the asks. `places` are those of the rows, in their order."""

    title: str
    unit: str
    line: str
    area: str
    across: tuple[Tick, ...]
    up: tuple[Tick, ...]
    marks: tuple[Mark, ...]
    places: tuple[tuple[int, int], ...]
    spoken: str


@dataclass(frozen=True)
class Drawing:
    panels: tuple[Panel, ...]
    points: str  # JSON: for each ask its name, what is said of it, and its place in each panel
    start: int  # the ask to begin at

    @property
    def last(self) -> int:
        return len(json.loads(self.points)) - 1


def bands(curve: Curve) -> tuple[Drawn, ...]:
    """Low, likely and high: when it was listed (where a band was given then), by the columns, and now."""
    known, moved = curve.here.needed, curve.moved
    then = [("When it was listed", known.at_listing)] if known.at_listing else []
    now = OpinionSeen(moved.low, moved.likely, moved.high, known.band.coverage_percent, known.band.at)
    shown = [*then, ("By what it is", known.band), ("Now", now)]
    return drawn(shown, left=320, top=10, gap=50)


def draw(curve: Curve) -> Drawing:
    rows = curve.rows
    panels = [_chances(curve)]
    for title, name in (("Consignor's net to be expected", "net"), ("Lot's gross to be expected", "gross")):
        if curve.deal is not None:
            panels.append(_money(curve, title=title, name=name))
    points = [
        {"ask": show_whole(row.ask), "said": said_of(row), "at": [panel.places[place] for panel in panels]}
        for place, row in enumerate(rows)
    ]
    start = rows.index(curve.waiting) if curve.waiting in rows else len(rows) // 2
    return Drawing(tuple(panels), json.dumps(points, ensure_ascii=False), start)


def said_of(row: Row) -> str:
    """One ask in a sentence."""
    told = [
        f"{chance_said(row.end.likely)} sold by the end ({chance_said(row.end.low)} to {chance_said(row.end.high)})"
    ]
    if row.price is not None:
        told.append(f"selling price {show_whole(row.price)} where it sells")
    if row.net is not None and row.gross is not None:
        told.append(f"consignor's net {show_whole(row.net)}")
        told.append(f"lot's gross {show_whole(row.gross)}")
    names = f" ({', '.join(row.marks)})" if row.marks else ""
    return f"At {show_whole(row.ask)}{names}: {', '.join(told)}."


def _x_of(curve: Curve) -> Place:
    return _scale(curve.rows[0].ask, last=curve.rows[-1].ask, start=LEFT, end=WIDTH - RIGHT)


def _scale(first: Decimal, *, last: Decimal, start: int, end: int) -> Place:
    return lambda value: int(start + (value - first) / ((last - first) or 1) * (end - start))


def _chances(curve: Curve) -> Panel:
    x, y = _x_of(curve), _scale(Decimal(0), last=Decimal(1), start=HEIGHT - BOTTOM, end=TOP)

    def place(row: Row, *, chance: float) -> tuple[int, int]:
        return x(row.ask), y(Decimal(f"{chance:.4f}"))

    middle = tuple(place(row, chance=row.end.likely) for row in curve.rows)
    upper = [place(row, chance=row.end.high) for row in curve.rows]
    lower = [place(row, chance=row.end.low) for row in reversed(curve.rows)]
    first, last = curve.rows[0], curve.rows[-1]
    return Panel(
        "Chance of a sale by the end of the agreement", "percent", _joined(middle), _joined([*upper, *lower]),
        _across(curve, x=x), tuple(Tick(y(Decimal(part) / 100), f"{part} %") for part in (0, 25, 50, 75, 100)),
        _marks(curve, x=x), middle,
        f"From {chance_said(first.end.likely)} at {show_whole(first.ask)} "
        f"to {chance_said(last.end.likely)} at {show_whole(last.ask)}.",
    )  # fmt: skip


def _money(curve: Curve, *, title: str, name: str) -> Panel:
    amounts = [(row.ask, getattr(row, name)) for row in curve.rows]
    values = axis_values([amount for _, amount in amounts])
    x, y = _x_of(curve), _scale(values[0], last=values[-1], start=HEIGHT - BOTTOM, end=TOP)
    places = tuple((x(ask), y(amount)) for ask, amount in amounts)
    best_ask, best = max(amounts, key=lambda pair: (pair[1], -pair[0]))
    return Panel(
        title, "money", _joined(places), "", _across(curve, x=x),
        tuple(Tick(y(value), show_whole(value)) for value in values), _marks(curve, x=x), places,
        f"Greatest at {show_whole(best_ask)}: {show_whole(best)}.",
    )  # fmt: skip


def _across(curve: Curve, *, x: Place) -> tuple[Tick, ...]:
    """Round asks between the ends, which are seldom round themselves."""
    first, last = curve.rows[0].ask, curve.rows[-1].ask
    return tuple(Tick(x(value), show_whole(value)) for value in axis_values([first, last]) if first <= value <= last)


def _marks(curve: Curve, *, x: Place) -> tuple[Mark, ...]:
    found = []
    for row in curve.rows:
        for name in row.marks:
            at = x(row.ask)
            anchor = "start" if at < LEFT + 130 else "end" if at > WIDTH - RIGHT - 130 else "middle"
            label = f"{name} {show_whole(row.ask)}"
            found.append(Mark(at, NAME_LINES[name], label, anchor, name.replace(" ", "-")))
    return tuple(found)


def _joined(places: Sequence[tuple[int, int]]) -> str:
    return " ".join(f"{x},{y}" for x, y in places)
