"""All pieces are there: is it the file that was announced, and what is it?"""

import uuid

from inventory.errors import Refused, TooLate
from inventory.rules.media import UploadKind
from inventory.uploads import pieces
from inventory.uploads.clips import CleanClip, clean_clip, sha256_of
from inventory.uploads.pictures import CleanPicture, clean_picture


def assembled(code: uuid.UUID, *, kind: str, name: str, sha256: str) -> CleanPicture | CleanClip:
    """The picture or clip of an upload whose last byte has come. The pieces stay where they are."""
    path = pieces.path_of(code)
    try:
        came = sha256_of(path)
        if came != sha256:
            raise _other_bytes(name, came=came, announced=sha256)
        if kind == UploadKind.PHOTO:
            return clean_picture(path.read_bytes(), name=name)
        return clean_clip(path, name=name)
    except FileNotFoundError as problem:  # finished by somebody a moment ago, or cleared away
        raise TooLate(
            "pieces_gone", f"The pieces of {name} are not here any more.", field="file", got=name,
            mend="Ask what became of it, or send it again.",
        ) from problem  # fmt: skip


def _other_bytes(name: str, *, came: str, announced: str) -> Refused:
    return Refused(
        "wrong_sha256",
        f"What came of {name} is not what was announced: {came[:12]}… instead of {announced[:12]}….",
        field="sha256",
        got=came,
        mend="Give this upload up and send the file again.",
    )
