"""What a vehicle is asked, and the weights in force."""

from typing import Any

from inventory.api.serializers.catalogue import AskedShown, PolicyShown
from inventory.api.views.base import OneRow
from inventory.queries.questions import asked_now
from inventory.queries.weights import score_policy
from inventory.rules.roles import Act


class Questions(OneRow):
    """The checks and photos that apply to this vehicle now, station by station."""

    acts = {"get": Act.SEE_LOT}
    serializer_class = AskedShown

    def row(self) -> Any:
        return asked_now(self.stay, by=self.by)


class Policy(OneRow):
    """The weights of condition and originality in force. Each inspection keeps those with which it was begun."""

    acts = {"get": Act.SEE_LOT}
    serializer_class = PolicyShown

    def row(self) -> Any:
        return score_policy(by=self.by)
