"""The inspection is begun, its checks recorded, and finished; and what belongs to a walk beside its checks."""

from functools import partial
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.actions import inspecting
from inventory.actions.inspecting import Finding
from inventory.api.schema import writes
from inventory.api.serializers.base import Nothing
from inventory.api.serializers.inspecting import (
    CheckGiven,
    CheckShown,
    ClearanceGiven,
    ClearanceShown,
    FeatureGiven,
    FeatureShown,
    FeaturesShown,
    FlagsShown,
    InspectionShown,
    LateTapShown,
    StationGiven,
    VisitGiven,
    VisitShown,
)
from inventory.api.views.base import Answering, OneRow, Rows
from inventory.queries import records
from inventory.queries.flags import flags_of
from inventory.queries.walk import feature_lines
from inventory.rules.roles import Act


class Inspections(Rows):
    """Walks of the vehicle, newest first."""

    acts = {"get": Act.SEE_LOT, "post": Act.INSPECT}
    serializer_class = InspectionShown

    def rows(self) -> QuerySet[Any]:
        return records.inspections(self.stay, by=self.by)

    @writes(Nothing, InspectionShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Begin a walk, or get the one that is open."""
        self.given(Nothing)
        return self.done(InspectionShown, lambda: inspecting.begin_inspection(self.stay.pk, by=self.by, at=self.at))


class Checks(Rows):
    """What each check found, the row written last first. Of two answers to a check the one told later counts."""

    acts = {"get": Act.SEE_LOT, "post": Act.INSPECT}
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


class StationChecks(Answering):
    acts = {"post": Act.INSPECT}

    @writes(StationGiven, CheckShown(many=True))
    def post(self, request: Request, stock_number: str) -> Response:
        """Grade checks of one station at once; the answer holds the rows written, in their order."""
        given = self.given(StationGiven)
        findings = [Finding(**finding) for finding in given.pop("findings", ())]
        return self.done(
            partial(CheckShown, many=True),
            lambda: inspecting.record_station(self.stay.pk, findings=findings, **given, by=self.by, at=self.at),
        )


class InspectionFinish(Answering):
    acts = {"post": Act.INSPECT}

    @writes(Nothing, InspectionShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Freeze the open walk; a vehicle that was on the lot becomes inspected."""
        self.given(Nothing)
        return self.done(InspectionShown, lambda: inspecting.finish_inspection(self.stay.pk, by=self.by, at=self.at))


class Features(OneRow):
    """What the vehicle has or lacks, and so which questions it is asked."""

    acts = {"get": Act.SEE_LOT, "post": Act.INSPECT}
    serializer_class = FeaturesShown

    def row(self) -> Any:
        return {"features": feature_lines(self.stay)}

    @writes(FeatureGiven, FeatureShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Say whether it has one of them; the latest word counts."""
        given = self.given(FeatureGiven)
        return self.done(FeatureShown, lambda: inspecting.record_feature(self.stay.pk, **given, by=self.by, at=self.at))


class Visits(Rows):
    """Who stood at which station when, and how warm the engine was, newest first."""

    acts = {"get": Act.SEE_LOT, "post": Act.INSPECT}
    serializer_class = VisitShown

    def rows(self) -> QuerySet[Any]:
        return records.visits(self.stay, by=self.by)

    @writes(VisitGiven, VisitShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Say that somebody stands at a station of the open walk now."""
        given = self.given(VisitGiven)
        return self.done(VisitShown, lambda: inspecting.record_visit(self.stay.pk, **given, by=self.by, at=self.at))


class Flags(OneRow):
    """Safety flags of the latest answers and figures, those that the owner cleared too."""

    acts = {"get": Act.SEE_LOT}
    serializer_class = FlagsShown

    def row(self) -> Any:
        return {"flags": flags_of(self.stay, today=timezone.localdate())}


class FlagClearances(Answering):
    acts = {"post": Act.CLEAR_FLAG}

    @writes(ClearanceGiven, ClearanceShown)
    def post(self, request: Request, stock_number: str, key: str) -> Response:
        """Clear one flag with a reason. Cleared before, it answers with that clearance."""
        given = self.given(ClearanceGiven)
        return self.done(
            ClearanceShown,
            lambda: inspecting.clear_flag(self.stay.pk, key=key, **given, by=self.by, at=self.at),
        )


class LateTaps(Rows):
    """What was tapped on a device and came after its inspection was finished: kept, counted nowhere; newest first."""

    acts = {"get": Act.SEE_LOT}
    serializer_class = LateTapShown

    def rows(self) -> QuerySet[Any]:
        return records.late_taps(self.stay, by=self.by)
