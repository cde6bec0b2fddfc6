"""The settlement is drafted, approved to the cent, paid out, or taken back whole."""

from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.actions import settling
from inventory.api.auth import MOVING_MONEY
from inventory.api.schema import asks, writes
from inventory.api.serializers.settling import (
    ApprovalGiven,
    DisbursementGiven,
    DisbursementShown,
    DraftAsked,
    ReversalGiven,
    SettlementShown,
    StatementShown,
)
from inventory.api.views.base import Answering, OneRow, Rows
from inventory.queries import money_records, records
from inventory.rules.roles import Act


class Settlement(OneRow):
    """The approved settlement, else the draft as of its pay date."""

    acts = {"get": Act.SEE_MONEY, "post": Act.APPROVE_SETTLEMENT}
    serializer_class = SettlementShown
    permission_classes = MOVING_MONEY

    @asks(DraftAsked, SettlementShown)
    def get(self, request: Request, stock_number: str) -> Response:
        """The statement that stands, else the draft as it would be paid out on a day."""
        return Response(SettlementShown(self.row()).data)

    def row(self) -> Any:
        pay_on = self.asked(DraftAsked).get("pay_on", timezone.localdate())
        return money_records.settlement(self.stay, pay_on=pay_on, by=self.by)

    @writes(ApprovalGiven, SettlementShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Approve the draft that was looked at: the due amount must still be the same."""
        given = self.given(ApprovalGiven)
        return self.done(SettlementShown, lambda: self.approved(**given))

    def approved(self, **given: Any) -> Any:
        row = settling.approve_settlement(self.stay.pk, **given, by=self.by, at=self.at)
        return money_records.settlement_read(row)


class SettlementReverse(Answering):
    permission_classes = MOVING_MONEY
    acts = {"post": Act.APPROVE_SETTLEMENT}

    @writes(ReversalGiven, SettlementShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Take the statement that stands back, whole. What was paid out on it counts towards the next."""
        given = self.given(ReversalGiven)
        wrong = records.approved_settlement(self.stay, by=self.by)
        return self.done(SettlementShown, lambda: self.reversed(wrong.pk, **given))

    def reversed(self, settlement_id: int, **given: Any) -> Any:
        row = settling.reverse_settlement(settlement_id, **given, by=self.by, at=self.at)
        return money_records.settlement_read(row)


class Statements(Rows):
    """Every statement that was approved, and every one that takes another back, newest first."""

    acts = {"get": Act.SEE_MONEY}
    serializer_class = StatementShown

    def rows(self) -> QuerySet[Any]:
        return money_records.statements(self.stay, by=self.by)


class Disbursements(Rows):
    """What was paid out, newest first."""

    acts = {"get": Act.SEE_MONEY, "post": Act.PAY}
    serializer_class = DisbursementShown
    permission_classes = MOVING_MONEY

    def rows(self) -> QuerySet[Any]:
        return records.disbursements(self.stay, by=self.by)

    @writes(DisbursementGiven, DisbursementShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Money left the lot for a payee of the approved settlement."""
        given = self.given(DisbursementGiven)
        settlement = records.approved_settlement(self.stay, by=self.by)
        return self.done(
            DisbursementShown,
            lambda: settling.record_disbursement(settlement.pk, **given, by=self.by, at=self.at),
        )
