"""What was done, by whom, when."""

from rest_framework import serializers

from inventory.api.serializers.base import Shown
from inventory.models import LogEntry
from inventory.rules.wording import log_sentence


class LogEntryShown(Shown):
    sentence = serializers.SerializerMethodField()

    class Meta:
        model = LogEntry
        fields = ["id", "at", "action", "actor_kind", "actor_name", "sentence"]
        read_only_fields = fields

    def get_sentence(self, row: LogEntry) -> str:
        return log_sentence(row.action, data=row.data)
