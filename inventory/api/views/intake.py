"""Consignments, vehicles and consignors."""

import uuid
from typing import Any

from django.db.models import QuerySet
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.actions import intake, recording
from inventory.actions.intake import Arrival
from inventory.api.filtering import ConsignmentFilter, ConsignorFilter, VehicleFilter
from inventory.api.paging import Pieces
from inventory.api.schema import writes
from inventory.api.serializers.intake import (
    ArrivalGiven,
    ConsignmentChange,
    ConsignmentShown,
    ConsignorChange,
    ConsignorShown,
    VehicleChange,
    VehicleShown,
)
from inventory.api.views.base import OneRow, Rows
from inventory.queries import records
from inventory.rules.roles import Act


class Consignments(Rows):
    """Stays of vehicles on the lot, newest first."""

    acts = {"get": Act.SEE_LOT, "post": Act.LOG_VEHICLE}
    pagination_class = Pieces
    serializer_class = ConsignmentShown
    filterset_class = ConsignmentFilter
    orderings = {
        "stock_number": "stock_number", "state": "state", "state_at": "state_at", "year": "vehicle__year",
        "make": "vehicle__make", "model": "vehicle__model", "arrived_on": "arrived_on", "listed_on": "listed_on",
        "ask": "ask",
    }  # fmt: skip

    def rows(self) -> QuerySet[Any]:
        return records.consignments(by=self.by)

    @writes(ArrivalGiven, ConsignmentShown)
    def post(self, request: Request) -> Response:
        """Log an arriving vehicle, with a new consignor or a known one."""
        given = self.given(ArrivalGiven)
        if "consignor" in given:
            given["consignor_id"] = records.consignor(given.pop("consignor"), by=self.by).pk
        return self.done(ConsignmentShown, lambda: self.logged(Arrival(**given)))

    def logged(self, arrival: Arrival) -> Any:
        row = intake.log_vehicle(arrival, by=self.by, at=self.at)
        return records.consignment(row.stock_number, by=self.by)


class ConsignmentDetail(OneRow):
    """One stay, by its stock number."""

    acts = {"get": Act.SEE_LOT, "patch": Act.RECORD_FACTS}
    serializer_class = ConsignmentShown

    def row(self) -> Any:
        return self.stay

    @writes(ConsignmentChange, ConsignmentShown, status=200, once=False)
    def patch(self, request: Request, stock_number: str) -> Response:
        """Correct odometer, note or arrival date."""
        values = self.given(ConsignmentChange)
        version = values.pop("version")
        recording.correct_consignment(self.stay.pk, values=values, version=version, by=self.by, at=self.at)
        return Response(ConsignmentShown(records.consignment(stock_number, by=self.by)).data)


class Vehicles(Rows):
    """Vehicles, newest first; each may have stayed several times."""

    acts = {"get": Act.SEE_LOT}
    pagination_class = Pieces
    serializer_class = VehicleShown
    filterset_class = VehicleFilter
    orderings = {"year": "year", "make": "make", "model": "model", "created_at": "created_at"}

    def rows(self) -> QuerySet[Any]:
        return records.vehicles(by=self.by)


class VehicleDetail(OneRow):
    acts = {"get": Act.SEE_LOT, "patch": Act.RECORD_FACTS}
    serializer_class = VehicleShown

    def row(self) -> Any:
        return records.vehicle(self.kwargs["code"], by=self.by)

    @writes(VehicleChange, VehicleShown, status=200, once=False)
    def patch(self, request: Request, code: uuid.UUID) -> Response:
        """Correct facts of the vehicle; its number goes through the same checks as on arrival."""
        values = self.given(VehicleChange)
        version = values.pop("version")
        row = intake.correct_vehicle(self.row().pk, values=values, version=version, by=self.by, at=self.at)
        return Response(VehicleShown(row).data)


class Consignors(Rows):
    acts = {"get": Act.SEE_LOT}
    pagination_class = Pieces
    serializer_class = ConsignorShown
    filterset_class = ConsignorFilter
    orderings = {"name": "name", "created_at": "created_at"}

    def rows(self) -> QuerySet[Any]:
        return records.consignors(by=self.by)


class ConsignorDetail(OneRow):
    acts = {"get": Act.SEE_LOT, "patch": Act.LOG_VEHICLE}
    serializer_class = ConsignorShown

    def row(self) -> Any:
        return records.consignor(self.kwargs["code"], by=self.by)

    @writes(ConsignorChange, ConsignorShown, status=200, once=False)
    def patch(self, request: Request, code: uuid.UUID) -> Response:
        """Correct name, address, e-mail or telephone number."""
        values = self.given(ConsignorChange)
        version = values.pop("version")
        row = recording.correct_consignor(self.row().pk, values=values, version=version, by=self.by, at=self.at)
        return Response(ConsignorShown(row).data)
