"""manage.py mail prints what it did, and does nothing twice."""

from io import StringIO

import pytest
from django.core import mail
from django.core.management import call_command
from django.utils import timezone

from tests import build

pytestmark = pytest.mark.django_db


def run() -> str:
    out = StringIO()
    call_command("mail", stdout=out)
    return out.getvalue()


def test_mail_sends_what_is_due_once_and_counts_it() -> None:
    build.consignment(at=timezone.now())
    assert "0 to be tried again, 0 given up, 0 unclear; 0 reminders and" in run()  # a summary too, on a Monday
    sent = [message for message in mail.outbox if "has arrived" in message.subject]
    assert len(sent) == 1
    assert run().startswith("0 sent")
