"""Clips of a consignment's vehicle."""

from typing import Any

from django.db.models import QuerySet

from inventory.api.serializers.filming import ClipShown
from inventory.api.views.base import Rows
from inventory.queries import records
from inventory.rules.roles import Act


class Clips(Rows):
    """What is known of each clip; the clips themselves are on the vehicle file."""

    acts = {"get": Act.SEE_LOT}
    serializer_class = ClipShown

    def rows(self) -> QuerySet[Any]:
        return records.clips(self.stay, by=self.by)
