"""Who asks about a vehicle, and who comes to see it."""

from typing import Any

from django.db.models import QuerySet
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.actions import inquiring
from inventory.api.schema import writes
from inventory.api.serializers.inquiring import InquiryGiven, InquiryShown, ShowingGiven, ShowingShown
from inventory.api.views.base import Rows
from inventory.queries import records
from inventory.rules.roles import Act


class Inquiries(Rows):
    """Inquiries, newest first."""

    acts = {"get": Act.LOG_INQUIRY, "post": Act.LOG_INQUIRY}
    serializer_class = InquiryShown

    def rows(self) -> QuerySet[Any]:
        return records.inquiries(self.stay, by=self.by)

    @writes(InquiryGiven, InquiryShown)
    def post(self, request: Request, stock_number: str) -> Response:
        given = self.given(InquiryGiven)
        return self.done(InquiryShown, lambda: inquiring.log_inquiry(self.stay.pk, **given, by=self.by, at=self.at))


class Showings(Rows):
    """Showings, newest first."""

    acts = {"get": Act.LOG_INQUIRY, "post": Act.LOG_INQUIRY}
    serializer_class = ShowingShown

    def rows(self) -> QuerySet[Any]:
        return records.showings(self.stay, by=self.by)

    @writes(ShowingGiven, ShowingShown)
    def post(self, request: Request, stock_number: str) -> Response:
        given = self.given(ShowingGiven)
        return self.done(ShowingShown, lambda: inquiring.log_showing(self.stay.pk, **given, by=self.by, at=self.at))
