"""Offers come in and are answered."""

from typing import Any

from django.db.models import QuerySet
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.actions import offering
from inventory.api.schema import writes
from inventory.api.serializers.offering import AnswerGiven, AnswerShown, OfferGiven, OfferShown
from inventory.api.views.base import Rows
from inventory.queries import records
from inventory.rules.roles import Act


class Offers(Rows):
    """Offers with their answers, newest first."""

    acts = {"get": Act.SEE_MONEY, "post": Act.LOG_OFFER}
    serializer_class = OfferShown

    def rows(self) -> QuerySet[Any]:
        return records.offers(self.stay, by=self.by)

    @writes(OfferGiven, OfferShown)
    def post(self, request: Request, stock_number: str) -> Response:
        given = self.given(OfferGiven)
        return self.done(OfferShown, lambda: offering.log_offer(self.stay.pk, **given, by=self.by, at=self.at))


class Answers(Rows):
    """Answers to one offer; the newest counts."""

    acts = {"get": Act.SEE_MONEY, "post": Act.ANSWER_OFFER}
    serializer_class = AnswerShown

    def rows(self) -> QuerySet[Any]:
        return records.answers(self.stay, offer_id=self.kwargs["offer_id"], by=self.by)

    @writes(AnswerGiven, AnswerShown)
    def post(self, request: Request, stock_number: str, offer_id: int) -> Response:
        """Accept, counter or refuse the offer."""
        given = self.given(AnswerGiven)
        offer = records.offer(self.stay, offer_id=offer_id, by=self.by)
        return self.done(AnswerShown, lambda: offering.answer_offer(offer.pk, **given, by=self.by, at=self.at))
