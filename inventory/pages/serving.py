"""Private files are served here only: kept by no cache, named by nobody outside, and clips in stretches."""

import io
import re
from collections.abc import Callable, Mapping
from typing import Any, BinaryIO

from django.db.models.fields.files import FieldFile
from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseBase
from django.utils.http import content_disposition_header

from inventory.errors import NotFound
from inventory.uploads import part_of

# For what came from outside: should a browser ever take it for a page, it is one without scripts, forms and origin.
SANDBOX = "sandbox; default-src 'none'; img-src 'self'; media-src 'self'; style-src 'unsafe-inline'"
ONE_STRETCH = re.compile(r"\Abytes=(\d{0,15})-(\d{0,15})\Z")


class Stretch(io.RawIOBase):
    """The part of an open file from where it stands, a number of bytes long."""

    def __init__(self, file: BinaryIO, *, length: int) -> None:
        self._file = file
        self._left = length

    def readable(self) -> bool:
        return True

    def read(self, size: int = -1) -> bytes:
        wanted = self._left if size < 0 else min(size, self._left)
        block = self._file.read(wanted)
        self._left -= len(block)
        return block

    def close(self) -> None:
        self._file.close()
        super().close()


def disposition(name: str, *, saved: bool = False) -> str:
    """The header for a name that anybody may have given: no line breaks, quotes and letters escaped (RFC 6266)."""
    plain = "".join(letter for letter in name if letter.isprintable())
    return content_disposition_header(saved, plain or "file") or "inline"


def opened(field: FieldFile) -> Any:
    """The stored file, open for reading; one that is lost is not there."""
    return _found(field, lambda: field.open("rb"))


def _found(field: FieldFile, read: Callable[[], Any]) -> Any:
    try:
        return read()
    except FileNotFoundError as problem:
        raise NotFound("not_found", "The file is not there any more.", got=field.name) from problem


def picture(field: FieldFile) -> FileResponse:
    """Only what was encoded anew (`uploads/pictures`) is shown, so there is one type."""
    answer = FileResponse(opened(field), content_type="image/jpeg")
    answer["Content-Disposition"] = "inline"
    return _from_outside(answer)


def attachment(field: FieldFile, *, name: str, content_type: str = "application/octet-stream") -> FileResponse:
    """To be saved, never to be shown by a browser: the content is somebody else's."""
    answer = FileResponse(opened(field), content_type=content_type)
    answer["Content-Disposition"] = disposition(name, saved=True)
    answer["Cache-Control"] = "no-store"
    return _from_outside(answer)


def _from_outside(answer: FileResponse) -> FileResponse:
    answer["X-Content-Type-Options"] = "nosniff"
    answer["Content-Security-Policy"] = SANDBOX
    return answer


def stretch_of(header: str, *, size: int) -> tuple[int, int] | None:
    """First and last byte asked for, or None where all is to be sent: no header, several stretches, or nonsense.

    RFC 9110, sections 14.1 and 14.2. A stretch that begins beyond the end gives last < first.
    """
    found = ONE_STRETCH.match(header.replace(" ", ""))
    if found is None or found.groups() == ("", ""):
        return None
    first, last = found.groups()
    if not first:  # the last so many bytes
        return (max(size - int(last), 0), size - 1) if int(last) else (size, size - 1)
    if last and int(last) < int(first):
        return None
    return int(first), min(int(last), size - 1) if last else size - 1


def clip(request: HttpRequest, field: FieldFile, *, size: int, sha256: str, content_type: str) -> HttpResponseBase:
    """A clip or the stretch of it that a player asks for."""
    tag = f'"{sha256}"'
    fresh = request.headers.get("If-Range", tag) == tag
    asked = stretch_of(request.headers.get("Range", ""), size=size) if fresh else None
    first, last = asked or (0, size - 1)
    headers = {
        "Accept-Ranges": "bytes", "Cache-Control": "no-store", "Content-Disposition": "inline", "ETag": tag,
        "X-Content-Type-Options": "nosniff", "Content-Security-Policy": SANDBOX,
    }  # fmt: skip
    if asked and last < first:
        return HttpResponse(status=416, headers={**headers, "Content-Range": f"bytes */{size}"})
    file = _found(field, lambda: part_of(field.storage, str(field.name), first=first, last=last))
    answer = FileResponse(Stretch(file, length=last - first + 1), status=206 if asked else 200)
    return _with(
        answer,
        {**headers, "Content-Type": content_type, "Content-Length": str(last - first + 1)}
        | ({"Content-Range": f"bytes {first}-{last}/{size}"} if asked else {}),
    )


def _with(answer: HttpResponseBase, headers: Mapping[str, str]) -> HttpResponseBase:
    for name, value in headers.items():
        answer[name] = value
    return answer
