"""One sale elsewhere as plain values, and what must hold between them."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from inventory.rules import money
from inventory.rules.elsewhere import Telling
from inventory.rules.floor_words import Premium
from inventory.sheets.options import Options
from inventory.sheets.sale import YEARS_AHEAD, hash_of, impossible_day
from inventory.sheets.told import ScoredTold

# Outside of these a price is more often a slip of the pen than a price: common practice, no source.
CHEAP, DEAR = Decimal(500), Decimal(5_000_000)


@dataclass(frozen=True, slots=True, kw_only=True)
class Elsewhere(ScoredTold):
    """A sale, or a high bid that was not accepted. None means unknown."""

    source: str
    ended_on: date
    price: Decimal
    sold: bool = True
    premium: str = Premium.NOT_SAID.value
    channel: str | None = None
    note: str | None = None

    @property
    def stock_number(self) -> None:
        """What others sold has no number of this lot."""

    def content_hash(self) -> str:
        return hash_of(self)

    def telling(self) -> Telling:
        return Telling(
            vin=self.vin or "", year=self.year, make=self.make, model=self.model, ended_on=self.ended_on,
            price=self.price, source=self.source,
        )  # fmt: skip


def make(values: dict[str, Any], *, options: Options) -> Elsewhere:
    """A sale from the values of a row; what the row does not say of its source is said for the file."""
    sold = values.get("sold")
    return Elsewhere(
        **{
            **values,
            "source": values.get("source") or options.source.strip(),
            "sold": sold is None or sold == "sold",
            "premium": values.get("premium") or Premium.NOT_SAID.value,
        }
    )


def contradictions(said: Elsewhere, *, today: date) -> Iterator[tuple[str, str]]:
    """Column and reason for each fact that cannot stand beside the others."""
    if not said.source:
        yield "source", "It is not said where this was told. Name the source, in the file or for the whole file."
    yield from impossible_day(said.ended_on, column="ended_on", today=today)
    if said.year > said.ended_on.year + YEARS_AHEAD:
        yield "year", f"A {said.year} model cannot have been sold in {said.ended_on.year}. Check both."


def oddities(said: Elsewhere) -> Iterator[tuple[str, str]]:
    """Column and remark for what is kept but worth a look."""
    if not CHEAP <= said.price <= DEAR:
        yield "price", f"{money.show(said.price)} is an odd price for a vehicle: check for a missing or extra figure."
    if not said.sold and said.premium == Premium.ADDED:
        yield "premium", "A high bid that was not accepted brings no premium: check the two."
