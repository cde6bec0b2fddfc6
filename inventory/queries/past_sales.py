"""Past sales and imports, as their pages show them."""

import uuid
from dataclasses import dataclass

from django.core.paginator import Page, Paginator
from django.db.models import Count, Max, Min, Q

from inventory.errors import NotFound
from inventory.models import ModelFit, SaleOutcome, SalesImport
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
    counted = SaleOutcome.objects.live().aggregate(
        sold=Count("pk", filter=Q(result=Result.SOLD)),
        withdrawn=Count("pk", filter=Q(result=Result.WITHDRAWN)),
        first_on=Min("ended_on"),
        last_on=Max("ended_on"),
    )
    fit = fits_in_short().first()
    return Book(**counted, fit=fit, standing=standing_of(fit) if fit else None)


def sales_page(text: str, *, number: int) -> Page[SaleOutcome]:
    rows = SaleOutcome.objects.live().order_by("-ended_on", "-pk")
    for word in text.split():
        found = Q(make__icontains=word) | Q(model__icontains=word) | Q(stock_number__icontains=word)
        found |= Q(vin__iendswith=word)
        if word.isascii() and word.isdigit() and len(word) == 4:
            found |= Q(year=int(word))
        rows = rows.filter(found)
    return Paginator(rows, PER_PAGE).get_page(number)


def import_by_code(code: uuid.UUID) -> SalesImport:
    row = SalesImport.objects.select_related("job").filter(code=code).first()
    if row is None:
        raise NotFound("not_found", "There is no such import.", got=str(code))
    return row
