"""What a vehicle loses by waiting: the best ask set today, against the same ask set after some more days at today's.

Money is that of consignor and lot together: the consignor's net and the lot's gross. Between them a commission, a
minimum, tiers and a top-up only change hands, so under every plan the two of a sale add up to

    price − charges − lien

and of no sale to what the vehicle is still worth to its consignor, less the same charges and lien. Whatever is asked,
charges and lien are the same, so they do not count in a difference, and no settlement need be drafted for it.

Where the agreement ends sooner than that, waiting means today's ask to its end. The figure may be below zero: a later
cut draws buyers too, and an ask higher for a while may be worth it. It is not clipped.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Protocol

from django.db.models import TextChoices

from inventory.rules.ask_curve import interest_said
from inventory.rules.money import percent_of, round_money, show_whole
from inventory.rules.track_record import signed

MORE_DAYS = 30  # that today's ask is kept for
SHARES = tuple(Decimal(text) for text in ("0.85", "0.90", "0.95", "1.00", "1.05", "1.10"))  # of the likely price now
PLAIN_FROM = Decimal(5000)  # from here on an ask is tried in full hundreds, below in tens
SAID_FROM = Decimal("0.5")  # percent: evidence that moved the likely price by less goes without saying


class StockOrder(TextChoices):
    """What the stock screen goes by, the worst first."""

    LOST = "lost", "lost by waiting"
    CHANCE = "chance", "chance to sell"
    EXPOSED = "exposed", "days for sale"
    RATIO = "ratio", "ask ratio"


class Foreseen(Protocol):
    """What may come of one way of asking, in short."""

    @property
    def chance(self) -> float: ...
    @property
    def price(self) -> Decimal: ...
    @property
    def days(self) -> Decimal: ...
    @property
    def unsold_value(self) -> Decimal: ...


@dataclass(frozen=True, kw_only=True)
class Keeping:
    """What it costs to keep a vehicle, and what one that did not sell is worth to its consignor."""

    cost_per_day: Decimal
    unsold_worth_percent: Decimal

    def together(self, seen: Foreseen) -> Decimal:
        """Expected money of consignor and lot together, before charges and lien.

        chance × price + (1 − chance) × worth unsold − cost of a day × days. `price` is that expected of a sale: as the
        sum of both sides rises with the price one to one, its mean is exact under every plan.
        """
        chance = Decimal(f"{seen.chance:.6f}")
        kept = percent_of(round_money(seen.unsold_value), rate=self.unsold_worth_percent)
        return round_money(chance * seen.price + (1 - chance) * kept - self.cost_per_day * seen.days)


def asks_to_try(
    likely: Decimal, *, present: Decimal, floor: Decimal | None, asked: tuple[float, float]
) -> tuple[Decimal, ...]:
    """The present ask, then as many others for every vehicle; where one is below the floor the floor stands for it.

    `asked` are the ends of what this lot has asked so far, as shares of the likely price: beyond them nothing is tried.
    """
    least, most = (Decimal(f"{end:.4f}") for end in asked)
    tried = (_plain_figure(likely * min(max(share, least), most)) for share in SHARES)
    return (present, *(ask if floor is None else max(ask, floor) for ask in tried))


def _plain_figure(amount: Decimal) -> Decimal:
    step = Decimal(100) if amount >= PLAIN_FROM else Decimal(10)
    return round_money(max((amount + step / 2) // step, Decimal(1)) * step)


def best_of(
    asks: Sequence[Decimal], *, seen: Sequence[Foreseen], floor: Decimal | None, keeping: Keeping
) -> tuple[Decimal, Decimal]:
    """The ask that consignor and lot together can expect most of, and that money. The first of `asks` is the present
    one: it stands where no other is better, unless it lies below the floor. Of equals the lower."""
    figures = [(ask, keeping.together(one)) for ask, one in zip(asks, seen, strict=True)]
    first = 1 if floor is not None and asks[0] < floor else 0
    return max(figures[first:], key=lambda pair: (pair[1], pair[0] == asks[0], -pair[0]))


def best_said(best: Decimal, *, asks: Sequence[Decimal], floor: Decimal | None) -> str:
    """The best ask in words, and where it is only the end of those tried: beyond it an ask may do better still."""
    if best == asks[0]:
        return "ask as it is"
    end = "the floor" if best == floor else "the highest tried" if best == max(asks) else ""
    if not end and best == min(asks):
        end = "the lowest tried"
    return f"best ask {show_whole(best)}" + (f", {end}" if end else "")


def moved_percent(now: Decimal, *, before: Decimal) -> Decimal:
    """By how much the likely price moved, in percent."""
    return (now / before - 1) * 100


def evidence_said(
    by: Mapping[str, float], *, weeks: int, best_offer: Decimal | None, interest: int | None = None
) -> tuple[str, ...]:
    """What moved the likely price, each with its part of it, the largest first."""
    names = {
        "asked": "first ask",
        "weeks": f"{weeks} week{'' if weeks == 1 else 's'} without a sale",
        "offers": "offers" if best_offer is None else f"best offer {show_whole(best_offer)}",
    }
    if interest is not None:
        names["interest"] = interest_said(interest, weeks=weeks)
    parts = [(name, (Decimal(f"{by[kind]:.6f}") - 1) * 100) for kind, name in names.items()]
    told = sorted((part for part in parts if abs(part[1]) >= SAID_FROM), key=lambda part: -abs(part[1]))
    return tuple(f"{name}: {signed(percent)}".replace(" %", "\u00a0%") for name, percent in told)  # kept on one line
