"""A mail server for tests: out of order while it is told to be, keeping what it took otherwise.

`EMAIL_BACKEND = "tests.mailbox.Mailbox"`. The state is the class's own: `Mailbox.empty()` begins anew.
"""

import smtplib
from typing import Any, ClassVar

from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend

from inventory.smtp import MayBeSent


class Mailbox(BaseEmailBackend):
    taken: ClassVar[list[EmailMessage]] = []
    is_down: ClassVar[bool] = False
    answers: ClassVar[list[Exception]] = []  # raised one by one instead of taking a mail
    tries: ClassVar[int] = 0

    @classmethod
    def empty(cls) -> None:
        cls.taken, cls.answers, cls.is_down, cls.tries = [], [], False, 0

    def open(self) -> bool:
        if self.is_down:
            type(self).tries += 1
            raise ConnectionRefusedError("Connection refused")
        return True

    def send_messages(self, email_messages: Any) -> int:
        type(self).tries += 1
        if self.answers:
            raise self.answers.pop(0)
        self.taken.extend(email_messages)
        return len(email_messages)

    def close(self) -> None:
        """Servers that hang up at the goodbye are common; what they took, they took."""
        raise smtplib.SMTPServerDisconnected("Connection unexpectedly closed")


def refused(code: int) -> smtplib.SMTPRecipientsRefused:
    return smtplib.SMTPRecipientsRefused({"ada@example.org": (code, b"5.1.1 no such\n mailbox")})


def cut_off() -> MayBeSent:
    return MayBeSent("Cut off while the text was handed over: timed out")
