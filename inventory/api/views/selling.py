"""Deposits, sales, deals that fall through, withdrawals, and what leaves the lot."""

from typing import Any

from django.db.models import QuerySet
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.actions import releasing, selling
from inventory.actions.paying import Payment
from inventory.actions.selling import Bargain, ConsentGiven
from inventory.api.filtering import OutcomeFilter
from inventory.api.schema import writes
from inventory.api.serializers.intake import ConsignmentShown
from inventory.api.serializers.selling import (
    BARGAIN,
    DealEndGiven,
    DealShown,
    DepositGiven,
    OutcomeShown,
    ReleaseGiven,
    SaleGiven,
    TitleSentGiven,
    UnwindingGiven,
    WithdrawalGiven,
)
from inventory.api.views.base import Answering, Rows
from inventory.queries import records


class Deals(Rows):
    """Deals with buyers, newest first."""

    serializer_class = DealShown

    def rows(self) -> QuerySet[Any]:
        return records.deals(self.stay, by=self.by)


class Deposit(Answering):
    @writes(DepositGiven, DealShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Hold a listed vehicle for a buyer until a day."""
        given = _with_bargain(self.given(DepositGiven))
        receipt = {"amount": given.pop("deposit"), "on": given.pop("received_on", None)}
        method = {"method": given.pop("method")} if "method" in given else {}
        given["deposit"] = Payment(**receipt, **method)
        return self.done(DealShown, lambda: selling.take_deposit(self.stay.pk, **given, by=self.by, at=self.at))


class DealEnd(Answering):
    @writes(DealEndGiven, DealShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """The deal fell through: the vehicle is for sale again."""
        given = self.given(DealEndGiven)
        return self.done(DealShown, lambda: selling.end_deal(self.stay.pk, **given, by=self.by, at=self.at))


class Sale(Answering):
    @writes(SaleGiven, OutcomeShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Mark the vehicle sold."""
        given = _with_bargain(self.given(SaleGiven))
        return self.done(OutcomeShown, lambda: selling.mark_sold(self.stay.pk, **given, by=self.by, at=self.at))


class Unwinding(Answering):
    @writes(UnwindingGiven, ConsignmentShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Set a sale aside before title or vehicle left."""
        given = self.given(UnwindingGiven)
        return self.done(
            ConsignmentShown,
            self.stay_after(lambda: selling.unwind_sale(self.stay.pk, **given, by=self.by, at=self.at)),
        )


class Withdrawal(Answering):
    @writes(WithdrawalGiven, ConsignmentShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """The consignor takes the vehicle back; an open deal ends with it."""
        given = self.given(WithdrawalGiven)
        return self.done(
            ConsignmentShown,
            self.stay_after(lambda: selling.withdraw(self.stay.pk, **given, by=self.by, at=self.at)),
        )


class Release(Answering):
    @writes(ReleaseGiven, ConsignmentShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """The vehicle leaves: to its consignor when withdrawn, to the buyer when sold and paid."""
        given = self.given(ReleaseGiven)
        return self.done(
            ConsignmentShown,
            self.stay_after(lambda: releasing.release(self.stay.pk, **given, by=self.by, at=self.at)),
        )


class TitleSent(Answering):
    @writes(TitleSentGiven, ConsignmentShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """The title goes to the buyer, once the money has cleared. Check local law."""
        given = self.given(TitleSentGiven)
        return self.done(
            ConsignmentShown,
            self.stay_after(lambda: releasing.send_title(self.stay.pk, **given, by=self.by, at=self.at)),
        )


class Outcomes(Rows):
    """Past sales and withdrawals that stand, newest first; those of earlier books too."""

    serializer_class = OutcomeShown
    filterset_class = OutcomeFilter
    orderings = {
        "ended_on": "ended_on", "price": "price", "effective_price": "effective_price", "year": "year", "make": "make",
        "model": "model", "stock_number": "stock_number",
    }  # fmt: skip

    def rows(self) -> QuerySet[Any]:
        return records.outcomes(by=self.by)


def _with_bargain(given: dict[str, Any]) -> dict[str, Any]:
    """The flat body as the action takes it: what is of the bargain together, the consent as its own."""
    parts = {name: given.pop(name) for name in BARGAIN & given.keys()}
    if "offer" in parts:
        parts["offer_id"] = parts.pop("offer")
    if parts:
        given["bargain"] = Bargain(**parts)
    if "consent" in given:
        given["consent"] = ConsentGiven(**given["consent"])
    return given
