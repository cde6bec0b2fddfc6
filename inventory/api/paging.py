"""How lists are cut into pages."""

from rest_framework.exceptions import ValidationError
from rest_framework.pagination import PageNumberPagination
from rest_framework.request import Request


class Pages(PageNumberPagination):
    page_size = 50
    page_size_query_param = "page_size"
    max_page_size = 200

    def get_page_size(self, request: Request) -> int:
        """The size asked for; one that is not possible is refused, not replaced."""
        asked = request.query_params.get("page_size")
        if asked is None:
            return self.page_size
        if not (asked.isascii() and asked.isdigit() and len(asked) <= 3 and 1 <= int(asked) <= self.max_page_size):
            raise ValidationError({"page_size": f"Give a number from 1 to {self.max_page_size}."}, code="out_of_range")
        return int(asked)
