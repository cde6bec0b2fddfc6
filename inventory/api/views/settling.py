"""The settlement is drafted, approved to the cent, and paid out."""

from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.actions import settling
from inventory.api.schema import writes
from inventory.api.serializers.settling import (
    ApprovalGiven,
    DisbursementGiven,
    DisbursementShown,
    SettlementShown,
)
from inventory.api.views.base import OneRow, Rows
from inventory.queries import records


class Settlement(OneRow):
    """The approved settlement, else the draft as of today."""

    serializer_class = SettlementShown

    def row(self) -> Any:
        return records.settlement(self.stay, on=timezone.localdate(), by=self.by)

    @writes(ApprovalGiven, SettlementShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Approve the draft that was looked at: the due amount must still be the same."""
        given = self.given(ApprovalGiven)
        return self.done(SettlementShown, lambda: self.approved(**given))

    def approved(self, **given: Any) -> Any:
        row = settling.approve_settlement(self.stay.pk, **given, by=self.by, at=self.at)
        return records.settlement_read(row)


class Disbursements(Rows):
    """What was paid out, newest first."""

    serializer_class = DisbursementShown

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
