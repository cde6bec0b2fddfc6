"""Long work and its progress, imports, and posts that must not count twice."""

from django.db import models

from inventory.models.fields import WordField, code_field, within
from inventory.rules.floor_words import ImportKind
from inventory.rules.words import JobStatus


class Job(models.Model):
    """One piece of long work: written by the task, polled by the page."""

    code = code_field()
    kind = models.CharField(max_length=20)
    status = WordField(max_length=10, words=JobStatus, default=JobStatus.QUEUED)
    done = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(default=0)
    message = models.TextField(blank=True)
    result = models.JSONField(default=dict, blank=True)
    asked_by = models.CharField(max_length=120)
    asked_at = models.DateTimeField()
    began_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    seen_at = models.DateTimeField("last sign of life", null=True, blank=True)
    task_id = models.UUIDField("its row in the queue", null=True, blank=True)

    class Meta:
        constraints = [within("job", field="status", allowed=JobStatus.values)]

    def __str__(self) -> str:
        return f"{self.kind} {self.code}"

    @property
    def is_over(self) -> bool:
        return self.status in {JobStatus.DONE, JobStatus.FAILED}


class SalesImport(models.Model):
    """One uploaded spreadsheet, how its columns were read, and what came of it."""

    code = code_field()
    kind = WordField("what it holds", max_length=12, words=ImportKind, default=ImportKind.PAST_SALES)
    name = models.CharField(max_length=200)
    file = models.FileField(upload_to="imports/%Y/%m/", blank=True)
    digest = models.CharField(max_length=64)
    choices = models.JSONField(default=dict, blank=True)
    report = models.JSONField(default=dict, blank=True)
    rejects = models.FileField(upload_to="imports/%Y/%m/", blank=True)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, null=True, blank=True, related_name="imports")
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [within("salesimport", field="kind", allowed=ImportKind.values)]

    def __str__(self) -> str:
        return self.name


class RepeatKey(models.Model):
    """The Idempotency-Key of a post that makes a money row, with the answer it got."""

    key = models.CharField(max_length=80)
    actor = models.CharField(max_length=80)
    fingerprint = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField(null=True, blank=True)
    answer = models.JSONField(null=True, blank=True)
    at = models.DateTimeField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["actor", "key"], name="repeatkey_once_per_actor")]

    def __str__(self) -> str:
        return self.key
