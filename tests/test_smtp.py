"""What surely was not taken is told from what may have been, over real sockets."""

import smtplib
from collections.abc import Iterator

import pytest
from django.core.mail import EmailMessage

from inventory.smtp import EmailBackend, MayBeSent
from tests.smtp_stub import Stub

MAIL = EmailMessage("Subject", "Text", "lot@example.org", ["ada@example.org"], headers={"Message-ID": "<1@lot>"})


@pytest.fixture
def stub() -> Iterator[Stub]:
    running = Stub()
    yield running
    running.turn("refuses connections")


def send(stub: Stub) -> int:
    backend = EmailBackend(host="127.0.0.1", port=stub.port, use_tls=False, timeout=5)
    return int(backend.send_messages([MAIL]))


def test_mail_is_taken(stub: Stub) -> None:
    stub.turn("takes mail")
    assert (send(stub), stub.taken) == (1, ["<1@lot>"])


def test_cut_off_after_the_text_may_be_sent_before_it_is_not(stub: Stub) -> None:
    stub.turn("hangs up after the text")
    with pytest.raises(MayBeSent):
        send(stub)
    assert stub.taken == ["<1@lot>"]
    stub.turn("hangs up before the text")
    with pytest.raises(smtplib.SMTPServerDisconnected):
        send(stub)


def test_server_that_is_busy_or_away_says_so(stub: Stub) -> None:
    stub.turn("answers 421")
    with pytest.raises(smtplib.SMTPConnectError):
        send(stub)
    stub.turn("refuses connections")
    with pytest.raises(ConnectionRefusedError):
        send(stub)
