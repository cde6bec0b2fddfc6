"""Arrival receipts and their papers."""

import uuid
from typing import Any

from django.db.models import QuerySet
from django.http import FileResponse
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request

from inventory.api.schema import answers_pdf
from inventory.api.serializers.receiving import ReceiptShown
from inventory.api.views.base import Answering, Rows
from inventory.queries import receipts, records
from inventory.rules.roles import Act


class Receipts(Rows):
    """Arrival receipts, newest first; the newest stands."""

    acts = {"get": Act.SEE_LOT}
    serializer_class = ReceiptShown

    def rows(self) -> QuerySet[Any]:
        return records.arrival_receipts(self.stay, by=self.by)


class PaperRenderer(JSONRenderer):
    """Lets a caller ask for a PDF. The paper is streamed as it is kept: only refusals come here, and they are JSON."""

    media_type = "application/pdf"
    format = "pdf"


class ReceiptFile(Answering):
    acts = {"get": Act.SEE_LOT}
    renderer_classes = [JSONRenderer, PaperRenderer]

    @answers_pdf
    def get(self, request: Request, stock_number: str, code: uuid.UUID) -> FileResponse:
        """The paper as it was signed, to be kept by no cache on the way."""
        row = receipts.receipt(code, stay=self.stay)
        answer = FileResponse(
            receipts.receipt_content(row), content_type="application/pdf", filename=receipts.file_name(row)
        )
        answer["Cache-Control"] = "private, no-store"
        answer["X-Content-Type-Options"] = "nosniff"
        return answer
