"""What differs between the kinds of sheet: columns, the record a row becomes, and what must hold in it."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any, Generic, Protocol, TypeVar

from inventory.sheets import elsewhere, sale, stock
from inventory.sheets.elsewhere import Elsewhere
from inventory.sheets.layouts import ELSEWHERE_LAYOUT, PAST_SALE_LAYOUT, STOCK_LAYOUT, Layout
from inventory.sheets.options import Options
from inventory.sheets.sale import Sale
from inventory.sheets.stock import InStock


class Record(Protocol):
    """What every kind of row says: a vehicle, and the number by which it is known again, if it has one."""

    @property
    def year(self) -> int: ...
    @property
    def vin(self) -> str | None: ...
    @property
    def stock_number(self) -> str | None: ...
    def content_hash(self) -> str: ...


R = TypeVar("R", bound=Record)


@dataclass(frozen=True)
class Kind(Generic[R]):
    """One kind of sheet.

    `make` builds the record from values and the options of the file; `contradictions` says (column, reason) for what
    cannot stand, `oddities` for what is imported and worth a look; `kept` is the record as it is kept after that.
    """

    layout: Layout
    make: Callable[..., R]
    contradictions: Callable[..., Iterator[tuple[str, str]]]
    oddities: Callable[[R], Iterator[tuple[str, str]]]
    kept: Callable[[R], R]
    most: int = 100_000
    """Rows of one file, besides the header."""

    def answered(self, options: Options) -> Options:
        """The options as they hold for this kind."""
        limits = replace(options.limits, rows=min(options.limits.rows, self.most + 1))
        return replace(options, layout=self.layout, limits=limits)


def _as_it_is(record: Any) -> Any:
    return record


PAST_SALES: Kind[Sale] = Kind(PAST_SALE_LAYOUT, sale.make, sale.contradictions, sale.oddities, sale.kept)
ELSEWHERE: Kind[Elsewhere] = Kind(
    ELSEWHERE_LAYOUT, elsewhere.make, elsewhere.contradictions, elsewhere.oddities, _as_it_is
)
STOCK: Kind[InStock] = Kind(STOCK_LAYOUT, stock.make, stock.contradictions, stock.oddities, _as_it_is, most=2_000)
