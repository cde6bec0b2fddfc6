"""Who is calling, and what they may do."""

from typing import Any

from inventory.api.serializers.staffing import CallerShown
from inventory.api.views.base import OneRow
from inventory.rules.roles import Act, may


class Me(OneRow):
    """Who you are to this lot, and the acts that your role includes."""

    acts = {"get": Act.SEE_LOT}
    serializer_class = CallerShown

    def row(self) -> Any:
        by = self.by
        return {"kind": by.kind, "role": by.role, "name": by.name, "may": [act for act in Act if may(by, act)]}
