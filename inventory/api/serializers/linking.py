"""The private link of a consignment."""

from typing import Any

from rest_framework import serializers


class LinkShown(serializers.Serializer[Any]):
    url = serializers.URLField(help_text="Shown only now: a digest is all that is kept.")
    expires_at = serializers.DateTimeField()
