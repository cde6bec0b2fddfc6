"""manage.py mail prints what it did, and does nothing twice."""

from io import StringIO

import pytest
from django.core import mail
from django.core.management import call_command
from django.db import OperationalError, connection
from django.utils import timezone

from inventory.actions.workers import Patience
from inventory.management.commands.mail import Command
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


def test_outage_of_the_database_is_told_once_and_waited_out(caplog: pytest.LogCaptureFixture) -> None:
    patience = Patience("mail --loop")
    for _ in range(3):
        patience.failed(OperationalError("connection to ada@example.org failed"))
    patience.came_through()
    patience.came_through()
    told = [record.getMessage() for record in caplog.records]
    assert told == [
        "mail --loop: the database cannot be used (OperationalError). Trying again.",
        "mail --loop: the database is back.",
    ]


@pytest.mark.django_db(transaction=True)
def test_pass_of_the_loop_outlives_a_database_that_is_gone() -> None:
    build.consignment(at=timezone.now())
    connection.close()
    name = connection.settings_dict["NAME"]
    patience, loop = Patience("mail --loop"), Command(stdout=StringIO())
    try:
        connection.settings_dict["NAME"] = "/nowhere/at/all" if connection.vendor == "sqlite" else "not-there"
        loop._pass(patience)
        assert patience.is_down
    finally:
        connection.close()
        connection.settings_dict["NAME"] = name
    loop._pass(patience)
    assert not patience.is_down
    assert len([message for message in mail.outbox if "has arrived" in message.subject]) == 1
