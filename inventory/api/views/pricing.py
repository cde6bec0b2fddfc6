"""Price opinions and fits."""

from typing import Any

from django.db.models import QuerySet
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.actions import pricing
from inventory.api.schema import writes
from inventory.api.serializers.base import Nothing
from inventory.api.serializers.pricing import ComparisonShown, FitShown, OpinionShown
from inventory.api.views.base import OneRow, Rows
from inventory.queries import comparison, records
from inventory.rules.roles import Act


class Price(Rows):
    """Price opinions on the vehicle, newest first."""

    acts = {"get": Act.SEE_PRICE, "post": Act.SEE_PRICE}
    serializer_class = OpinionShown

    def rows(self) -> QuerySet[Any]:
        return records.opinions(self.stay, by=self.by)

    @writes(Nothing, OpinionShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Price the vehicle with the last fit; refused where the evidence is too thin, with what is missing."""
        self.given(Nothing)
        return self.done(OpinionShown, lambda: pricing.give_opinion(self.stay.pk, by=self.by, at=self.at))


class Comparison(OneRow):
    """The nearest past sales behind the newest price opinion, each adjusted to the vehicle line by line."""

    acts = {"get": Act.SEE_PRICE}
    serializer_class = ComparisonShown

    def row(self) -> comparison.Grid:
        return comparison.newest_grid(self.stay, by=self.by)


class Fits(Rows):
    """Fits of the price band, newest first, without what they learned."""

    acts = {"get": Act.SEE_PRICE}
    serializer_class = FitShown
    orderings = {"at": "at", "sales_used": "sales_used"}

    def rows(self) -> QuerySet[Any]:
        return records.fits(by=self.by)
