"""Deposits, sales, deals that fall through, withdrawals, and what leaves the lot."""

from typing import Any

from django.db.models import QuerySet
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.actions import conceding, extras, releasing, selling, trading_in
from inventory.actions.intake import Arrival
from inventory.actions.paying import Payment
from inventory.actions.selling import Bargain, ConsentGiven
from inventory.api.filtering import OutcomeFilter
from inventory.api.paging import Pieces
from inventory.api.schema import writes
from inventory.api.serializers.base import Nothing
from inventory.api.serializers.intake import ConsignmentShown, TradeGiven
from inventory.api.serializers.selling import (
    BARGAIN,
    ConcessionGiven,
    ConcessionShown,
    DealEndGiven,
    DealShown,
    DepositGiven,
    ExtraGiven,
    ExtraShown,
    OutcomeShown,
    ReleaseGiven,
    SaleGiven,
    TitleSentGiven,
    UnwindingGiven,
    WithdrawalGiven,
)
from inventory.api.views.base import Answering, Rows
from inventory.queries import money_records, records
from inventory.rules.roles import Act


class Deals(Rows):
    """Deals with buyers, newest first."""

    acts = {"get": Act.SEE_MONEY}
    serializer_class = DealShown

    def rows(self) -> QuerySet[Any]:
        return money_records.deals(self.stay, by=self.by)


class Deposit(Answering):
    acts = {"post": Act.TAKE_DEPOSIT}

    @writes(DepositGiven, DealShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Hold a listed vehicle for a buyer until a day."""
        given = _with_bargain(self.given(DepositGiven))
        receipt = {"amount": given.pop("deposit"), "on": given.pop("received_on", None)}
        told = {name: given.pop(name) for name in ("method", "reference") if name in given}
        given["deposit"] = Payment(**receipt, **told)
        return self.done(DealShown, lambda: selling.take_deposit(self.stay.pk, **given, by=self.by, at=self.at))


class DealEnd(Answering):
    acts = {"post": Act.END_DEAL}

    @writes(DealEndGiven, DealShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """The deal fell through: the vehicle is for sale again."""
        given = self.given(DealEndGiven)
        return self.done(DealShown, lambda: selling.end_deal(self.stay.pk, **given, by=self.by, at=self.at))


class Sale(Answering):
    acts = {"post": Act.MARK_SOLD}

    @writes(SaleGiven, OutcomeShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Mark the vehicle sold."""
        given = _with_bargain(self.given(SaleGiven))
        return self.done(OutcomeShown, lambda: selling.mark_sold(self.stay.pk, **given, by=self.by, at=self.at))


class Unwinding(Answering):
    acts = {"post": Act.UNWIND}

    @writes(UnwindingGiven, ConsignmentShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Set a sale aside before title or vehicle left."""
        given = self.given(UnwindingGiven)
        return self.done(
            ConsignmentShown,
            self.stay_after(lambda: selling.unwind_sale(self.stay.pk, **given, by=self.by, at=self.at)),
        )


class Withdrawal(Answering):
    acts = {"post": Act.WITHDRAW}

    @writes(WithdrawalGiven, ConsignmentShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """The consignor takes the vehicle back; an open deal ends with it."""
        given = self.given(WithdrawalGiven)
        return self.done(
            ConsignmentShown,
            self.stay_after(lambda: selling.withdraw(self.stay.pk, **given, by=self.by, at=self.at)),
        )


class Release(Answering):
    acts = {"post": Act.RELEASE}

    @writes(ReleaseGiven, ConsignmentShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """The vehicle leaves: to its consignor when withdrawn, to the buyer when sold and paid."""
        given = self.given(ReleaseGiven)
        return self.done(
            ConsignmentShown,
            self.stay_after(lambda: releasing.release(self.stay.pk, **given, by=self.by, at=self.at)),
        )


class TitleSent(Answering):
    acts = {"post": Act.RELEASE}

    @writes(TitleSentGiven, ConsignmentShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """The title goes to the buyer, once the money has cleared. Check local law."""
        given = self.given(TitleSentGiven)
        return self.done(
            ConsignmentShown,
            self.stay_after(lambda: releasing.send_title(self.stay.pk, **given, by=self.by, at=self.at)),
        )


class Extras(Rows):
    """Taxes and fees that a buyer pays beside the price, newest first."""

    acts = {"get": Act.SEE_MONEY, "post": Act.MARK_SOLD}
    serializer_class = ExtraShown

    def rows(self) -> QuerySet[Any]:
        return money_records.deal_extras(self.stay, by=self.by)

    @writes(ExtraGiven, ExtraShown)
    def post(self, request: Request, stock_number: str) -> Response:
        given = self.given(ExtraGiven)
        return self.done(ExtraShown, lambda: self.added(**given))

    def added(self, **given: Any) -> Any:
        row = extras.add_extra(self.stay.pk, **given, by=self.by, at=self.at)
        return money_records.deal_extra(self.stay, extra_id=row.pk, by=self.by)


class ExtraSetAside(Answering):
    acts = {"post": Act.MARK_SOLD}

    @writes(Nothing, ExtraShown)
    def post(self, request: Request, stock_number: str, extra_id: int) -> Response:
        """Take a tax or fee back by a row that names it; both stay in the books."""
        self.given(Nothing)
        wrong = money_records.deal_extra(self.stay, extra_id=extra_id, by=self.by)
        return self.done(ExtraShown, lambda: self.set_aside(wrong.pk))

    def set_aside(self, extra_id: int) -> Any:
        row = extras.set_extra_aside(extra_id, by=self.by, at=self.at)
        return money_records.deal_extra(self.stay, extra_id=row.pk, by=self.by)


class Concessions(Rows):
    """Money off the price after a sale, newest first."""

    acts = {"get": Act.SEE_MONEY, "post": Act.CONCEDE}
    serializer_class = ConcessionShown

    def rows(self) -> QuerySet[Any]:
        return money_records.concessions(self.stay, by=self.by)

    @writes(ConcessionGiven, ConcessionShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """The lot gives the buyer money off and bears it itself."""
        given = self.given(ConcessionGiven)
        return self.done(ConcessionShown, lambda: conceding.concede(self.stay.pk, **given, by=self.by, at=self.at))


class TradeIn(Answering):
    acts = {"post": Act.LOG_VEHICLE}

    @writes(TradeGiven, ConsignmentShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Log the vehicle taken in trade as the lot's own, as a stay of its own."""
        vehicle = Arrival(**self.given(TradeGiven))
        return self.done(ConsignmentShown, lambda: self.logged(vehicle))

    def logged(self, vehicle: Arrival) -> Any:
        row = trading_in.log_trade(self.stay.pk, vehicle=vehicle, by=self.by, at=self.at)
        return records.consignment(row.stock_number, by=self.by)


class Outcomes(Rows):
    """Past sales and withdrawals that stand, newest first; those of earlier books too."""

    acts = {"get": Act.SEE_MONEY}
    pagination_class = Pieces
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
