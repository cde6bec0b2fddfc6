"""The component ledger, build dates and modifications of a consignment's vehicle, and the lot's decoder table."""

from typing import Any

from django.db.models import QuerySet
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.actions import ledger, recording
from inventory.actions.ledger import Built, Line
from inventory.api.filtering import DecoderFilter
from inventory.api.schema import writes
from inventory.api.serializers.ledger import (
    BuildDateGiven,
    BuildDateShown,
    ComponentGiven,
    ComponentShown,
    DecoderEntryShown,
    ModificationGiven,
    ModificationShown,
)
from inventory.api.views.base import Rows
from inventory.queries import records
from inventory.rules.roles import Act


class Components(Rows):
    """The component ledger, newest first: the first line of a component counts."""

    acts = {"get": Act.SEE_LOT, "post": Act.INSPECT}
    serializer_class = ComponentShown

    def rows(self) -> QuerySet[Any]:
        return records.components(self.stay, by=self.by)

    @writes(ComponentGiven, ComponentShown)
    def post(self, request: Request, stock_number: str) -> Response:
        """Write one line. `notes` in the answer say what its date means and what else to look at."""
        line = Line(**self.given(ComponentGiven))
        return self.done(ComponentShown, lambda: self.written(line))

    def written(self, line: Line) -> Any:
        row = ledger.record_component(self.stay.pk, line=line, by=self.by, at=self.at)
        return records.component_line(self.stay, row_id=row.pk, by=self.by)


class BuildDates(Rows):
    """When the vehicle was built, newest statement first: the first counts."""

    acts = {"get": Act.SEE_LOT, "post": Act.INSPECT}
    serializer_class = BuildDateShown

    def rows(self) -> QuerySet[Any]:
        return records.build_dates(self.stay, by=self.by)

    @writes(BuildDateGiven, BuildDateShown)
    def post(self, request: Request, stock_number: str) -> Response:
        built = Built(**self.given(BuildDateGiven))
        return self.done(
            BuildDateShown, lambda: ledger.record_build_date(self.stay.pk, built=built, by=self.by, at=self.at)
        )


class Modifications(Rows):
    """Deliberate changes to the vehicle."""

    acts = {"get": Act.SEE_LOT, "post": Act.RECORD_FACTS}
    serializer_class = ModificationShown

    def rows(self) -> QuerySet[Any]:
        return records.modifications(self.stay, by=self.by)

    @writes(ModificationGiven, ModificationShown)
    def post(self, request: Request, stock_number: str) -> Response:
        given = self.given(ModificationGiven)
        return self.done(
            ModificationShown, lambda: recording.add_modification(self.stay.pk, **given, by=self.by, at=self.at)
        )


class DecoderEntries(Rows):
    """The lot's own decoder table: entries that count, newest first. `code` finds all that one code can mean."""

    acts = {"get": Act.SEE_LOT}
    serializer_class = DecoderEntryShown
    filterset_class = DecoderFilter
    orderings = {"make": "make", "component": "component", "written": "written_key", "from_year": "from_year"}

    def rows(self) -> QuerySet[Any]:
        return records.decoder_entries(by=self.by)
