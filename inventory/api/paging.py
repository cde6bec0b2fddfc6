"""How lists are cut: short ones into numbered pages with a count, those without end into pieces."""

from typing import Any

from rest_framework.exceptions import ValidationError
from rest_framework.pagination import CursorPagination, PageNumberPagination
from rest_framework.request import Request
from rest_framework.utils.urls import replace_query_param

from inventory.api.filtering import sorted_by
from inventory.queries.keyset import Piece, cut

MOST = 200


def size_of(request: Request, *, usual: int) -> int:
    """The size asked for; one that is not possible is refused, not replaced."""
    asked = request.query_params.get("page_size")
    if asked is None:
        return usual
    if not (asked.isascii() and asked.isdigit() and len(asked) <= 3 and 1 <= int(asked) <= MOST):
        raise ValidationError({"page_size": f"Give a number from 1 to {MOST}."}, code="out_of_range")
    return int(asked)


class Pages(PageNumberPagination):
    """What belongs to one stay: never long."""

    page_size = 50
    page_size_query_param = "page_size"
    max_page_size = MOST

    def get_page_size(self, request: Request) -> int:
        return size_of(request, usual=self.page_size)


class Pieces(CursorPagination):
    """What grows for ever: `next` and `previous` name a row, and nothing is counted.

    The framework's own cursor knows one column that is never empty; lists here are sorted by several.
    """

    page_size = 50
    page_size_query_param = "page_size"
    max_page_size = MOST
    piece: Piece[Any]
    address: str

    def paginate_queryset(self, queryset: Any, request: Request, view: Any = None) -> list[Any]:
        self.address = request.build_absolute_uri()
        size, place = size_of(request, usual=self.page_size), request.query_params.get("cursor", "")
        self.piece = cut(queryset, order=sorted_by(request, orderings=view.orderings), size=size, place=place)
        return self.piece.rows

    def get_next_link(self) -> str | None:
        return self._link(self.piece.after)

    def get_previous_link(self) -> str | None:
        return self._link(self.piece.before)

    def _link(self, place: str) -> str | None:
        return replace_query_param(self.address, "cursor", place) if place else None
