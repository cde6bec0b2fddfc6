"""What was done to a consignment, by whom, when."""

from typing import Any

from django.db.models import QuerySet

from inventory.api.paging import Pieces
from inventory.api.serializers.logbook import LogEntryShown
from inventory.api.views.base import Rows
from inventory.queries import records
from inventory.rules.roles import Act


class Log(Rows):
    """The log in sentences, newest first; what the role may not see is left out."""

    acts = {"get": Act.SEE_LOT}
    pagination_class = Pieces
    serializer_class = LogEntryShown

    def rows(self) -> QuerySet[Any]:
        return records.log_of(self.stay, by=self.by)
