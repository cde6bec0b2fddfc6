"""How one sale elsewhere is known again when it is told twice."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal


@dataclass(frozen=True, kw_only=True)
class Telling:
    """What a telling says of vehicle, day and price, and who told it."""

    vin: str
    year: int
    make: str
    model: str
    ended_on: date
    price: Decimal
    source: str


def told_before(telling: Telling, *, among: list[Telling]) -> Telling | None:
    """The earlier telling of what looks like the same sale: same day, same price, same vehicle.

    Two numbers tell vehicles apart; where one of the tellings has none, year, make and model must do.
    """
    same = (told for told in among if (told.ended_on, told.price) == (telling.ended_on, telling.price))
    return next((told for told in same if _same_vehicle(told, telling)), None)


def _same_vehicle(one: Telling, other: Telling) -> bool:
    """
    >>> told = Telling(vin="", year=1968, make="Merrow", model="Alder", ended_on=date(2026, 1, 2),
    ...                price=Decimal(100), source="x")
    >>> _same_vehicle(told, told)
    True
    """
    if one.vin and other.vin:
        return one.vin == other.vin
    return _name(one) == _name(other)


def _name(telling: Telling) -> tuple[int, str, str]:
    return telling.year, telling.make.casefold(), telling.model.casefold()
