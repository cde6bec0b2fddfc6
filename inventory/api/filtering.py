"""How lists are narrowed and sorted. A parameter that is not known is refused by name, not passed over."""

from collections.abc import Mapping
from typing import Any

import django_filters  # type: ignore[import-untyped]
from django.db.models import F, QuerySet
from django.db.models.expressions import OrderBy
from django_filters.rest_framework import DjangoFilterBackend, FilterSet  # type: ignore[import-untyped]
from rest_framework.exceptions import ValidationError
from rest_framework.filters import BaseFilterBackend
from rest_framework.request import Request
from rest_framework.views import APIView

from inventory.queries import records
from inventory.rules.states import State
from inventory.rules.words import Result, SaleChannel

YEARS = {"min_value": 1886, "max_value": 2200}


class KnownParameters(DjangoFilterBackend):  # type: ignore[misc]
    def filter_queryset(self, request: Request, queryset: QuerySet[Any], view: Any) -> QuerySet[Any]:
        filters = view.filterset_class.base_filters if getattr(view, "filterset_class", None) else {}
        known = {*filters, _place_of(view), "page_size", *(["ordering"] if view.orderings else [])}
        unknown = sorted(set(request.query_params) - known)
        if unknown:
            mend = f"There is no such parameter. Known are: {', '.join(sorted(known))}."
            raise ValidationError({name[:60]: mend for name in unknown[:20]}, code="unknown")
        _refuse_nothing_said(request.query_params, filters=filters)
        rows: QuerySet[Any] = super().filter_queryset(request, queryset, view)
        return rows


def _refuse_nothing_said(given: Mapping[str, str], *, filters: Mapping[str, Any]) -> None:
    """An empty parameter, or a word that is neither true nor false, would be passed over in silence."""
    empty = {name: "Give a value, or leave the parameter out." for name, value in given.items() if not value.strip()}
    neither = {
        name: "Give true or false."
        for name, value in given.items()
        if isinstance(filters.get(name), django_filters.BooleanFilter) and value not in {"true", "false"}
    }
    if empty or neither:
        raise ValidationError(neither | empty, code="invalid")


class Sorting(BaseFilterBackend):
    """`ordering=-year,make`; what is not known comes last, and the newest row decides between equals."""

    def filter_queryset(self, request: Request, queryset: QuerySet[Any], view: Any) -> QuerySet[Any]:
        columns = sorted_by(request, orderings=view.orderings)
        return queryset.order_by(*(_sorted(column) for column in columns), "-pk")

    def get_schema_operation_parameters(self, view: APIView) -> list[dict[str, Any]]:
        orderings = getattr(view, "orderings", {})
        if not orderings:
            return []
        said = f"Sort by {', '.join(orderings)}; a minus sign before the name turns it round; several by commas."
        one = f"-?({'|'.join(orderings)})"
        shape = {"type": "string", "pattern": f"^{one}(,{one})*$"}
        return [{"name": "ordering", "in": "query", "required": False, "description": said, "schema": shape}]


def sorted_by(request: Request, *, orderings: dict[str, str]) -> list[str]:
    """The columns that `ordering` names, each with its minus sign."""
    terms = [term for term in request.query_params.get("ordering", "").split(",") if term]
    unknown = [term for term in terms if term.removeprefix("-") not in orderings]
    if unknown:
        mend = f"“{unknown[0][:60]}” is no way to sort. Known are: {', '.join(orderings)}."
        raise ValidationError({"ordering": mend}, code="unknown")
    columns: dict[str, str] = {}
    for term in terms:
        columns.setdefault(orderings[term.removeprefix("-")], "-" if term.startswith("-") else "")
    return [f"{way}{column}" for column, way in columns.items()]


def _sorted(column: str) -> OrderBy:
    said = F(column.removeprefix("-"))
    return said.desc(nulls_last=True) if column.startswith("-") else said.asc(nulls_last=True)


def _place_of(view: Any) -> str:
    """What names a place in this list: the number of a page, or a cursor."""
    paging = view.pagination_class
    return str(getattr(paging, "page_query_param", None) or getattr(paging, "cursor_query_param", "page"))


class ConsignmentFilter(FilterSet):  # type: ignore[misc]
    state = django_filters.MultipleChoiceFilter(choices=State.choices)
    make = django_filters.CharFilter(field_name="vehicle__make", lookup_expr="iexact")
    model = django_filters.CharFilter(field_name="vehicle__model", lookup_expr="iexact")
    year_min = django_filters.NumberFilter(field_name="vehicle__year", lookup_expr="gte", **YEARS)
    year_max = django_filters.NumberFilter(field_name="vehicle__year", lookup_expr="lte", **YEARS)
    consignor = django_filters.UUIDFilter(field_name="consignor__code", help_text="The consignor's code.")
    stock_number = django_filters.CharFilter(lookup_expr="iexact")
    here = django_filters.BooleanFilter(field_name="released_on", lookup_expr="isnull", help_text="Not released yet.")
    q = django_filters.CharFilter(
        method="search", help_text="Words of stock number, make, model, consignor, or the end of the serial."
    )

    def search(self, rows: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        return records.consignments_with(rows, text=value)


class VehicleFilter(FilterSet):  # type: ignore[misc]
    make = django_filters.CharFilter(lookup_expr="iexact")
    model = django_filters.CharFilter(lookup_expr="iexact")
    year_min = django_filters.NumberFilter(field_name="year", lookup_expr="gte", **YEARS)
    year_max = django_filters.NumberFilter(field_name="year", lookup_expr="lte", **YEARS)
    serial = django_filters.CharFilter(lookup_expr="iexact")
    q = django_filters.CharFilter(method="search", help_text="Words of make and model, or the end of the serial.")

    def search(self, rows: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        return records.vehicles_with(rows, text=value)


class ConsignorFilter(FilterSet):  # type: ignore[misc]
    q = django_filters.CharFilter(method="search", help_text="Words of name, e-mail address or telephone number.")

    def search(self, rows: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        return records.consignors_with(rows, text=value)


class OutcomeFilter(FilterSet):  # type: ignore[misc]
    result = django_filters.ChoiceFilter(choices=Result.choices)
    channel = django_filters.ChoiceFilter(choices=SaleChannel.choices)
    make = django_filters.CharFilter(lookup_expr="iexact")
    model = django_filters.CharFilter(lookup_expr="iexact")
    year_min = django_filters.NumberFilter(field_name="year", lookup_expr="gte", **YEARS)
    year_max = django_filters.NumberFilter(field_name="year", lookup_expr="lte", **YEARS)
    ended_from = django_filters.DateFilter(field_name="ended_on", lookup_expr="gte")
    ended_to = django_filters.DateFilter(field_name="ended_on", lookup_expr="lte")
    stock_number = django_filters.CharFilter(lookup_expr="iexact")


class DecoderFilter(FilterSet):  # type: ignore[misc]
    component = django_filters.CharFilter()
    make = django_filters.CharFilter(lookup_expr="iexact")
    year = django_filters.NumberFilter(method="in_year", help_text="A model year the entry is about.", **YEARS)
    code = django_filters.CharFilter(method="of_code", max_length=60, help_text="A code as read off the part.")

    def in_year(self, rows: QuerySet[Any], name: str, value: Any) -> QuerySet[Any]:
        return rows.filter(from_year__lte=value, to_year__gte=value)

    def of_code(self, rows: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        return records.decoder_entries_for(rows, code=value)
