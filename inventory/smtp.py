"""Sending by SMTP that tells what surely was not taken from what may have been."""

import smtplib
from typing import TYPE_CHECKING

from django.core.mail.backends import smtp

if TYPE_CHECKING:
    from _typeshed import ReadableBuffer as Buffer

_COMMAND_AND_TEXT = 2  # what smtplib sends for one mail: DATA, and after the server's go-ahead the text


class MayBeSent(OSError):
    """The server was cut off after it was given the text of a mail: whether it took it, nobody can say."""


class _Telling(smtplib.SMTP):
    sends = 0

    def send(self, s: "Buffer | str") -> None:
        self.sends += 1
        super().send(s)

    def data(self, msg: "Buffer | str") -> tuple[int, bytes]:
        """Hand over the text. Whatever the server answers is an answer; silence after the text is not."""
        before = self.sends
        try:
            return super().data(msg)
        except smtplib.SMTPResponseException:
            raise
        except OSError as problem:
            if self.sends - before < _COMMAND_AND_TEXT:
                raise  # gone before it was given the text
            raise MayBeSent(f"Cut off while the text was handed over: {problem}") from problem


class _TellingEncrypted(_Telling, smtplib.SMTP_SSL):
    """The same over TLS from the first byte."""


class EmailBackend(smtp.EmailBackend):
    @property
    def connection_class(self) -> type[smtplib.SMTP]:
        return _TellingEncrypted if self.use_ssl else _Telling
