"""The ask is set, and the vehicle listed."""

from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.actions import asking, pricing
from inventory.api.schema import writes
from inventory.api.serializers.asking import AskCurveShown, AskGiven, AskShown
from inventory.api.serializers.base import Versioned
from inventory.api.serializers.intake import ConsignmentShown
from inventory.api.views.base import Answering, OneRow, Rows
from inventory.queries import ask_desk, records
from inventory.rules.roles import Act


class Asks(Rows):
    """The history of the ask, newest first."""

    acts = {"get": Act.SEE_LOT, "post": Act.SET_ASK}
    serializer_class = AskShown

    def rows(self) -> QuerySet[Any]:
        return records.asks(self.stay, by=self.by)

    @writes(AskGiven, AskShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Set the ask, at or above the floor."""
        given = self.given(AskGiven)
        given["amount"] = given.pop("ask")
        return self.done(AskShown, lambda: asking.set_ask(self.stay.pk, **given, by=self.by, at=self.at))


class Listing(Answering):
    acts = {"post": Act.LIST}

    @writes(Versioned, ConsignmentShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Offer an inspected vehicle for sale."""
        given = self.given(Versioned)
        return self.done(
            ConsignmentShown,
            self.stay_after(lambda: asking.list_vehicle(self.stay.pk, **given, by=self.by, at=self.at)),
        )


class AskCurve(OneRow):
    """What may come of each ask, by the last fit and the lot's settings; refused where too little is known."""

    acts = {"get": Act.SEE_PRICE}
    serializer_class = AskCurveShown

    def row(self) -> dict[str, Any]:
        return ask_desk.body_of(self.stay, fit=pricing.needed_fit(), today=timezone.localdate())
