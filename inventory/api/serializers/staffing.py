"""Who is calling."""

from typing import Any

from rest_framework import serializers

from inventory.api.serializers.base import Word
from inventory.rules.roles import Act, ActorKind, Role


class CallerShown(serializers.Serializer[Any]):
    kind = Word(ActorKind)
    role = Word(Role)
    name = serializers.CharField()
    may = serializers.ListField(child=Word(Act), help_text="The acts that this role includes.")
