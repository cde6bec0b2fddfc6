"""Clips of a consignment's vehicle."""

from inventory.api.serializers.base import Shown, Word
from inventory.models import Clip
from inventory.rules.media import ClipKind


class ClipShown(Shown):
    kind = Word(ClipKind)

    class Meta:
        model = Clip
        fields = [
            "code", "kind", "caption", "station", "shot", "name", "content_type", "bytes", "sha256", "located",
            "public", "by", "at",
        ]  # fmt: skip
        read_only_fields = fields
