"""Identity numbers, title papers, places and photos of a consignment's vehicle."""

from typing import Any

from django.db.models import QuerySet
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.actions import recording
from inventory.api.schema import writes
from inventory.api.serializers.recording import (
    IdentityNumberGiven,
    IdentityNumberShown,
    IdentityResolutionGiven,
    IdentityResolutionShown,
    PhotoShown,
    PlaceGiven,
    PlaceShown,
    TitlePaperGiven,
    TitlePaperShown,
)
from inventory.api.views.base import Rows
from inventory.queries import records
from inventory.rules.roles import Act


class IdentityNumbers(Rows):
    """Numbers as read off the vehicle or its papers, newest first."""

    acts = {"get": Act.SEE_LOT, "post": Act.RECORD_FACTS}
    serializer_class = IdentityNumberShown

    def rows(self) -> QuerySet[Any]:
        return records.identity_numbers(self.stay, by=self.by)

    @writes(IdentityNumberGiven, IdentityNumberShown)
    def post(self, request: Request, stock_number: str) -> Response:
        given = self.given(IdentityNumberGiven)
        return self.done(
            IdentityNumberShown,
            lambda: recording.add_identity_number(self.stay.pk, **given, by=self.by, at=self.at),
        )


class IdentityResolutions(Rows):
    """What the owner decided about numbers that do not agree, newest first; each for the numbers as they stood."""

    acts = {"get": Act.SEE_LOT, "post": Act.RESOLVE_IDENTITY}
    serializer_class = IdentityResolutionShown

    def rows(self) -> QuerySet[Any]:
        return records.identity_resolutions(self.stay, by=self.by)

    @writes(IdentityResolutionGiven, IdentityResolutionShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Resolve the open question about the identity. One more number opens it again."""
        given = self.given(IdentityResolutionGiven)
        return self.done(
            IdentityResolutionShown,
            lambda: recording.resolve_identity(self.stay.pk, **given, by=self.by, at=self.at),
        )


class TitlePapers(Rows):
    """Papers that say whose the vehicle is."""

    acts = {"get": Act.SEE_LOT, "post": Act.RECORD_FACTS}
    serializer_class = TitlePaperShown

    def rows(self) -> QuerySet[Any]:
        return records.title_papers(self.stay, by=self.by)

    @writes(TitlePaperGiven, TitlePaperShown)
    def post(self, request: Request, stock_number: str) -> Response:
        given = self.given(TitlePaperGiven)
        return self.done(
            TitlePaperShown, lambda: recording.add_title_paper(self.stay.pk, **given, by=self.by, at=self.at)
        )


class Places(Rows):
    """Where vehicle and keys were, newest first; the newest counts."""

    acts = {"get": Act.SEE_LOT, "post": Act.SEE_LOT}
    serializer_class = PlaceShown

    def rows(self) -> QuerySet[Any]:
        return records.places(self.stay, by=self.by)

    @writes(PlaceGiven, PlaceShown)
    def post(self, request: Request, stock_number: str) -> Response:
        given = self.given(PlaceGiven)
        return self.done(PlaceShown, lambda: recording.record_place(self.stay.pk, **given, by=self.by, at=self.at))


class Photos(Rows):
    """What is known of each photo; the pictures themselves are on the vehicle file."""

    acts = {"get": Act.SEE_LOT}
    serializer_class = PhotoShown

    def rows(self) -> QuerySet[Any]:
        return records.photos(self.stay, by=self.by)
