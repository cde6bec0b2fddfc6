"""Past sales and imports, as their pages show them."""

import uuid
from dataclasses import dataclass

from django.db.models import Count

from inventory.errors import NotFound
from inventory.models import ModelFit, SaleOutcome, SalesImport
from inventory.queries.keyset import Piece, cut
from inventory.queries.pricing_desk import Standing, fits_in_short, standing_of
from inventory.rules.words import Result

PER_PAGE = 25


@dataclass(frozen=True)
class Book:
    """The history in a few figures."""

    sold: int
    withdrawn: int
    first_on: object
    last_on: object
    fit: ModelFit | None
    standing: Standing | None


def book() -> Book:
    """Counted by indexes: all rows by their result, less those that another row follows."""
    rows = SaleOutcome.objects.order_by()
    all_of = dict(rows.values_list("result").annotate(count=Count("pk")))
    followed = dict(rows.filter(follows__isnull=False).values_list("follows__result").annotate(count=Count("pk")))
    days = SaleOutcome.objects.live().values_list("ended_on", flat=True)
    fit = fits_in_short().first()
    return Book(
        sold=all_of.get(Result.SOLD, 0) - followed.get(Result.SOLD, 0),
        withdrawn=all_of.get(Result.WITHDRAWN, 0) - followed.get(Result.WITHDRAWN, 0),
        first_on=days.order_by("ended_on", "pk").first(),
        last_on=days.order_by("-ended_on", "-pk").first(),
        fit=fit,
        standing=standing_of(fit) if fit else None,
    )


def sales_piece(text: str, *, place: str) -> Piece[SaleOutcome]:
    rows = SaleOutcome.objects.live()
    for word in text.split():
        rows = rows.naming(word)
    return cut(rows, order=["-ended_on", "-pk"], size=PER_PAGE, place=place)


def import_by_code(code: uuid.UUID) -> SalesImport:
    row = SalesImport.objects.select_related("job").filter(code=code).first()
    if row is None:
        raise NotFound("not_found", "There is no such import.", got=str(code))
    return row
