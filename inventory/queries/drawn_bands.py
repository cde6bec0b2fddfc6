"""Some bands under each other on one scale, 1,000 units wide: low to high as a bar, likely as a mark."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Protocol

from inventory.rules.money import show_whole

RIGHT = Decimal(990)
LEAST_WIDTH = 2


class Band(Protocol):
    @property
    def low(self) -> Decimal: ...
    @property
    def likely(self) -> Decimal: ...
    @property
    def high(self) -> Decimal: ...


@dataclass(frozen=True)
class Drawn:
    """One band: where its bar begins, how wide it is, and where its likely price stands."""

    name: str
    x: int
    width: int
    likely: int
    top: int
    said: str

    @property
    def base(self) -> int:
        """Of its name."""
        return self.top + 20

    @property
    def tick(self) -> tuple[int, int]:
        """Where the mark of the likely price begins and ends."""
        return self.top - 6, self.top + 32


def drawn(bands: Sequence[tuple[str, Band]], *, left: int, top: int, gap: int) -> tuple[Drawn, ...]:
    """`left` is kept free for the names."""
    place = _scale(bands, left=left)
    return tuple(
        Drawn(
            name, place(band.low), max(place(band.high) - place(band.low), LEAST_WIDTH), place(band.likely),
            top + gap * number,
            f"{name}: {show_whole(band.low)} to {show_whole(band.high)}, likely {show_whole(band.likely)}",
        )
        for number, (name, band) in enumerate(bands)
    )  # fmt: skip


def _scale(bands: Sequence[tuple[str, Band]], *, left: int) -> Callable[[Decimal], int]:
    least, most = min(band.low for _, band in bands), max(band.high for _, band in bands)
    return lambda amount: int(left + (amount - least) / ((most - least) or 1) * (RIGHT - left))
