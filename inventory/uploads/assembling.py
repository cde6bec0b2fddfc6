"""All pieces are there: is it the file that was announced, and what is it?"""

import uuid
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from inventory.errors import Refused, TooLate
from inventory.rules.media import UploadKind
from inventory.uploads import objects, pieces
from inventory.uploads.clips import CleanClip, clean_clip, sha256_of
from inventory.uploads.objects import Piece
from inventory.uploads.pictures import CleanPicture, clean_picture


@dataclass(frozen=True)
class Arrived:
    """A file whose last byte has come, as it was announced."""

    code: uuid.UUID
    kind: str
    name: str
    total: int
    sha256: str
    pieces: tuple[Piece, ...] = ()  # where they lie in a bucket


@contextmanager
def assembled(came: Arrived) -> Iterator[CleanPicture | CleanClip]:
    """The picture or clip, as long as it is needed. The pieces stay where they are."""
    with ExitStack() as until_kept:
        try:
            made = _made(_path(came, until_kept=until_kept), came=came)
        except FileNotFoundError as problem:  # finished by somebody a moment ago, or cleared away
            raise TooLate(
                "pieces_gone", f"The pieces of {came.name} are not here any more.", field="file", got=came.name,
                mend="Ask what became of it, or send it again.",
            ) from problem  # fmt: skip
        yield made


def _path(came: Arrived, *, until_kept: ExitStack) -> Path:
    if not objects.in_use():
        return pieces.path_of(came.code)
    return until_kept.enter_context(objects.joined(came.pieces, code=came.code, total=came.total))


def _made(path: Path, *, came: Arrived) -> CleanPicture | CleanClip:
    found = sha256_of(path)
    if found != came.sha256:
        raise _other_bytes(came, found=found)
    if came.kind == UploadKind.PHOTO:
        return clean_picture(path.read_bytes(), name=came.name)
    return clean_clip(path, name=came.name)


def _other_bytes(came: Arrived, *, found: str) -> Refused:
    return Refused(
        "wrong_sha256",
        f"What came of {came.name} is not what was announced: {found[:12]}… instead of {came.sha256[:12]}….",
        field="sha256",
        got=found,
        mend="Give this upload up and send the file again.",
    )
