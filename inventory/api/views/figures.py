"""Measured figures of a consignment's vehicle: read with all they mean, and written by part."""

from typing import Any

from django.utils import timezone
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.actions import figures
from inventory.actions.figures import Measured
from inventory.api.schema import writes
from inventory.api.serializers.figures import (
    DrivelineGiven,
    DrivelineShown,
    ElectricGiven,
    ElectricShown,
    EngineGiven,
    EngineShown,
    FiguresShown,
    TyreGiven,
    TyreShown,
)
from inventory.api.views.base import Answering, OneRow
from inventory.queries.figures import figures_of
from inventory.rules.roles import Act

SAID_OF_ALL = ("basis", "note", "client_key")


def measured(given: dict[str, Any]) -> Measured:
    """The body apart: its figures, and what is said of all of them."""
    said = {name: given.pop(name) for name in SAID_OF_ALL if name in given}
    return Measured(figures=given, **said)


class Figures(OneRow):
    """The figures that count, what each means, and what does not agree."""

    acts = {"get": Act.SEE_LOT}
    serializer_class = FiguresShown

    def row(self) -> Any:
        return figures_of(self.stay, today=timezone.localdate())


class Tyres(Answering):
    acts = {"post": Act.INSPECT}

    @writes(TyreGiven, TyreShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Record what was read off one tyre."""
        given = self.given(TyreGiven)
        position, all_four = given.pop("position"), given.pop("all_four", False)
        return self.done(
            TyreShown,
            lambda: figures.record_tyre(
                self.stay.pk, position=position, all_four=all_four, measured=measured(given), by=self.by, at=self.at
            ),
        )


class Engine(Answering):
    acts = {"post": Act.INSPECT}

    @writes(EngineGiven, EngineShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Record figures of the engine."""
        said = measured(self.given(EngineGiven))
        return self.done(
            EngineShown, lambda: figures.record_engine(self.stay.pk, measured=said, by=self.by, at=self.at)
        )


class Driveline(Answering):
    acts = {"post": Act.INSPECT}

    @writes(DrivelineGiven, DrivelineShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Record figures of axle and gears."""
        said = measured(self.given(DrivelineGiven))
        return self.done(
            DrivelineShown, lambda: figures.record_driveline(self.stay.pk, measured=said, by=self.by, at=self.at)
        )


class Electrics(Answering):
    acts = {"post": Act.INSPECT}

    @writes(ElectricGiven, ElectricShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Record battery and brake fluid."""
        said = measured(self.given(ElectricGiven))
        return self.done(
            ElectricShown, lambda: figures.record_electric(self.stay.pk, measured=said, by=self.by, at=self.at)
        )
