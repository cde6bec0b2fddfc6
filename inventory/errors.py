"""The one way in which the house says no."""

from typing import Any


class Refused(Exception):
    """An act or a value that is not accepted: what, on which field, what came, and how to mend it.

    `code` is for programs, `message` is a sentence for people (it holds the value), `mend` says what to
    do next. Pages put the text on the field, the API returns it, commands print it.
    """

    def __init__(self, code: str, message: str, *, field: str = "", got: Any = None, mend: str = "") -> None:
        super().__init__(message)
        self.code = code
        self.message = message
        self.field = field
        self.got = got
        self.mend = mend

    def __str__(self) -> str:
        return f"{self.message} {self.mend}".strip()


class NotAllowed(Refused):
    """The actor's role does not include this act."""


class TooLate(Refused):
    """Somebody else was faster: the row is no longer as the caller saw it."""


class NotFound(Refused):
    """Nothing there that this actor may see."""
