"""The buyer's money is received, and clears or bounces."""

from typing import Any

from django.db.models import QuerySet
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.actions import paying
from inventory.actions.paying import Payment
from inventory.api.schema import writes
from inventory.api.serializers.paying import FateGiven, PaymentGiven, PaymentShown
from inventory.api.views.base import Answering, Rows
from inventory.queries import records
from inventory.rules.roles import Act


class Payments(Rows):
    """Receipts and what became of them, newest first."""

    acts = {"get": Act.SEE_MONEY, "post": Act.RECORD_PAYMENT}
    serializer_class = PaymentShown

    def rows(self) -> QuerySet[Any]:
        return records.payments(self.stay, by=self.by)

    @writes(PaymentGiven, PaymentShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Money came in from the buyer of the deal that stands."""
        payment = Payment(**self.given(PaymentGiven))
        return self.done(
            PaymentShown, lambda: paying.record_payment(self.stay.pk, payment=payment, by=self.by, at=self.at)
        )


class PaymentFate(Answering):
    acts = {"post": Act.CLEAR_PAYMENT}

    @writes(FateGiven, PaymentShown)
    def post(self, request: Request, stock_number: str, payment_id: int) -> Response:
        """Say that a receipt has cleared, has bounced, or was returned."""
        given = self.given(FateGiven)
        receipt = records.receipt(self.stay, payment_id=payment_id, by=self.by)
        return self.done(PaymentShown, lambda: paying.settle_payment(receipt.pk, **given, by=self.by, at=self.at))
