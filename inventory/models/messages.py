"""Words between the lot and its consignors: the mail that goes out, and the questions that come in."""

from django.db import models

from inventory.models.base import Appended
from inventory.models.consignments import Consignment, StatusLink
from inventory.models.fields import WordField, code_field, within
from inventory.models.people import Consignor
from inventory.rules.words import MessageKind, MessageStatus


class MailText(Appended):
    """The lot's own wording of one kind of mail; the greatest number counts, and without one the house's own."""

    kind = WordField(max_length=16, words=MessageKind)
    number = models.PositiveIntegerField()
    subject = models.CharField(max_length=150)
    body = models.TextField(max_length=5000)
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            within("mailtext", field="kind", allowed=MessageKind.values),
            models.UniqueConstraint(fields=["kind", "number"], name="mailtext_number_is_unique"),
            models.CheckConstraint(
                condition=~models.Q(subject="") & ~models.Q(body=""),
                name="mailtext_has_subject_and_body",
                violation_error_message="A mail has a subject and a text.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, version {self.number}"


class OutMessage(models.Model):
    """One mail to one consignor, from the moment it was decided on. What it is about it is sent about once.

    The private link stands in the text as a placeholder: the token is never kept.
    """

    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, null=True, related_name="messages")
    consignor = models.ForeignKey(Consignor, on_delete=models.PROTECT, related_name="messages")
    kind = WordField(max_length=16, words=MessageKind)
    event_key = models.CharField("what it is about", max_length=120, unique=True)
    to = models.EmailField(blank=True)
    subject = models.CharField(max_length=200)
    text = models.TextField()
    status = WordField(max_length=12, words=MessageStatus, default=MessageStatus.QUEUED)
    attempts = models.PositiveSmallIntegerField(default=0)
    next_try_at = models.DateTimeField(null=True, blank=True)
    claimed_at = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    last_error = models.CharField(max_length=300, blank=True)
    message_id = models.CharField(max_length=120, unique=True)
    made_at = models.DateTimeField()

    class Meta:
        constraints = [
            within("outmessage", field="kind", allowed=MessageKind.values),
            within("outmessage", field="status", allowed=MessageStatus.values),
            models.CheckConstraint(
                condition=~models.Q(status=MessageStatus.SENT) | models.Q(sent_at__isnull=False),
                name="outmessage_sent_has_moment",
                violation_error_message="A mail that was sent says when.",
            ),
            models.CheckConstraint(
                condition=~models.Q(to="") | models.Q(status__in=[MessageStatus.NO_ADDRESS, MessageStatus.NOT_WANTED]),
                name="outmessage_has_address",
                violation_error_message="A mail that is to be sent has an address.",
            ),
        ]
        indexes = [
            models.Index(fields=["status", "next_try_at"], name="outmessage_due"),
            models.Index(fields=["consignment", "id"], name="outmessage_by_consignment"),
        ]

    def __str__(self) -> str:
        return self.subject


class MailChoice(Appended):
    """A consignor turned one kind of mail off, or on again; the latest counts."""

    consignor = models.ForeignKey(Consignor, on_delete=models.PROTECT, related_name="mail_choices")
    kind = WordField(max_length=16, words=MessageKind)
    wanted = models.BooleanField()
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [within("mailchoice", field="kind", allowed=MessageKind.values)]
        indexes = [models.Index(fields=["consignor", "id"], name="mailchoice_by_consignor")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {'on' if self.wanted else 'off'}"


class ConsignorQuestion(Appended):
    """What a consignor asked on the status page."""

    code = code_field()
    consignment = models.ForeignKey(Consignment, on_delete=models.PROTECT, related_name="questions")
    text = models.TextField(max_length=1000)
    link = models.ForeignKey(StatusLink, on_delete=models.PROTECT, related_name="questions")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(text=""),
                name="consignorquestion_has_text",
                violation_error_message="Write the question.",
            )
        ]
        indexes = [models.Index(fields=["consignment", "id"], name="question_by_consignment")]

    def __str__(self) -> str:
        return self.text[:60]


class QuestionAnswer(Appended):
    question = models.OneToOneField(ConsignorQuestion, on_delete=models.PROTECT, related_name="answer")
    text = models.TextField(max_length=2000)
    by = models.CharField(max_length=120)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~models.Q(text=""),
                name="questionanswer_has_text",
                violation_error_message="Write the answer.",
            )
        ]

    def __str__(self) -> str:
        return self.text[:60]
