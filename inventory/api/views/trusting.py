"""The trust account: the report of the whole, the ledger of one consignment, and what moves."""

from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.actions import trusting
from inventory.api.schema import asks, writes
from inventory.api.serializers.trusting import (
    BalanceGiven,
    BalanceShown,
    MoneyLedgerShown,
    MovementGiven,
    MovementShown,
    TrustAsked,
    TrustShown,
)
from inventory.api.views.base import OneRow, Rows
from inventory.queries import money_records
from inventory.rules.roles import Act


class Trust(OneRow):
    """What the trust account should hold at the end of a day, and for whom, beside what the bank says."""

    acts = {"get": Act.SEE_TRUST}
    serializer_class = TrustShown

    @asks(TrustAsked, TrustShown)
    def get(self, request: Request) -> Response:
        """What the trust account should hold at the end of a day, and for whom, beside what the bank says."""
        return Response(TrustShown(self.row()).data)

    def row(self) -> Any:
        today = timezone.localdate()
        on = self.asked(TrustAsked).get("on", today)
        return money_records.trust_report(on=on, today=today, by=self.by)


class Balances(Rows):
    """What the bank said stands in the trust account, newest first."""

    acts = {"get": Act.SEE_TRUST, "post": Act.MOVE_TRUST}
    serializer_class = BalanceShown

    def rows(self) -> QuerySet[Any]:
        return money_records.balances(by=self.by)

    @writes(BalanceGiven, BalanceShown)
    def post(self, request: Request) -> Response:
        """Enter what the bank says at the end of a day."""
        given = self.given(BalanceGiven)
        return self.done(BalanceShown, lambda: trusting.enter_balance(**given, by=self.by, at=self.at))


class MoneyLedger(OneRow):
    """Who holds what for whom in one consignment. Every posting adds up to zero, and so do the accounts."""

    acts = {"get": Act.SEE_MONEY}
    serializer_class = MoneyLedgerShown

    def row(self) -> Any:
        return money_records.ledger(self.stay, by=self.by)


class Movements(Rows):
    """Money between the trust account and the lot's own, and taxes passed on, newest first."""

    acts = {"get": Act.SEE_MONEY, "post": Act.MOVE_TRUST}
    serializer_class = MovementShown

    def rows(self) -> QuerySet[Any]:
        return money_records.movements(self.stay, by=self.by)

    @writes(MovementGiven, MovementShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Record money that went in or out; never more than is there for this consignment."""
        given = self.given(MovementGiven)
        return self.done(MovementShown, lambda: trusting.move_money(self.stay.pk, **given, by=self.by, at=self.at))
