"""Sales elsewhere, as their page shows them and as an import knows them again."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Count, Max, Min, Q

from inventory.errors import NotFound
from inventory.models import MarketSale, ModelFit
from inventory.queries.keyset import Piece, cut
from inventory.rules.elsewhere import Telling

PER_PAGE = 25
_TOLD = ("vin", "year", "make", "model", "ended_on", "price", "source")


@dataclass(frozen=True)
class Standing:
    """The sales elsewhere in a few figures, and whether the last fit knows them all."""

    sales: int
    bids: int
    first_on: date | None
    last_on: date | None
    fitted: bool
    newer: bool  # a row came in, or one was corrected or taken out, since the last fit


def standing(fit: ModelFit | None) -> Standing:
    counted = MarketSale.objects.live().aggregate(
        sales=Count("pk", filter=Q(sold=True)), bids=Count("pk", filter=Q(sold=False)),
        first_on=Min("ended_on"), last_on=Max("ended_on"),
    )  # fmt: skip
    newest = MarketSale.objects.aggregate(newest=Max("pk"))["newest"] or 0
    known = fit.summary.get("elsewhere_newest") or 0 if fit else 0
    return Standing(**counted, fitted=fit is not None, newer=newest > known)


def sales_piece(text: str, *, place: str) -> Piece[MarketSale]:
    """Newest first, narrowed by make, model, year, source or the last digits of a number."""
    rows = MarketSale.objects.live()
    for word in text.split():
        found = Q(make__icontains=word) | Q(model__icontains=word) | Q(source__icontains=word)
        found |= Q(vin__iendswith=word)
        if word.isascii() and word.isdigit() and len(word) == 4:
            found |= Q(year=int(word))
        rows = rows.filter(found)
    return cut(rows, order=["-ended_on", "-pk"], size=PER_PAGE, place=place)


def sale(sale_id: int) -> MarketSale:
    row = MarketSale.objects.select_related("follows").filter(pk=sale_id).first()
    if row is None:
        raise NotFound("not_found", "There is no such sale elsewhere.", got=sale_id)
    return row


def tellings(*, on: date, price: Decimal) -> list[Telling]:
    """Sales that count, of one day at one price."""
    return _told(MarketSale.objects.live().filter(ended_on=on, price=price).values(*_TOLD))


def all_tellings() -> list[Telling]:
    return _told(MarketSale.objects.live().values(*_TOLD).iterator())


def imported_hashes() -> frozenset[str]:
    return frozenset(MarketSale.objects.exclude(content_hash="").values_list("content_hash", flat=True).iterator())


def _told(rows: Iterable[dict[str, object]]) -> list[Telling]:
    return [Telling(**row) for row in rows]  # type: ignore[arg-type]
