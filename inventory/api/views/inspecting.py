"""The inspection is begun, its checks recorded, and finished."""

from typing import Any

from django.db.models import QuerySet
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.actions import inspecting
from inventory.actions.inspecting import Finding
from inventory.api.schema import writes
from inventory.api.serializers.base import Nothing
from inventory.api.serializers.inspecting import (
    CheckGiven,
    CheckShown,
    InspectionShown,
)
from inventory.api.views.base import Answering, Rows
from inventory.queries import records


class Inspections(Rows):
    """Walks of the vehicle, newest first."""

    serializer_class = InspectionShown

    def rows(self) -> QuerySet[Any]:
        return records.inspections(self.stay, by=self.by)

    @writes(Nothing, InspectionShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Begin a walk, or get the one that is open."""
        self.given(Nothing)
        return self.done(InspectionShown, lambda: inspecting.begin_inspection(self.stay.pk, by=self.by, at=self.at))


class Checks(Rows):
    """What each check found, newest first: the first row of a check and an inspection counts."""

    serializer_class = CheckShown

    def rows(self) -> QuerySet[Any]:
        return records.check_results(self.stay, by=self.by)

    @writes(CheckGiven, CheckShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Grade one check of the open walk."""
        finding = Finding(**self.given(CheckGiven))
        return self.done(
            CheckShown, lambda: inspecting.record_check(self.stay.pk, finding=finding, by=self.by, at=self.at)
        )


class InspectionFinish(Answering):
    @writes(Nothing, InspectionShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Freeze the open walk; a vehicle that was on the lot becomes inspected."""
        self.given(Nothing)
        return self.done(InspectionShown, lambda: inspecting.finish_inspection(self.stay.pk, by=self.by, at=self.at))
