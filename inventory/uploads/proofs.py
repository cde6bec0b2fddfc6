"""Proof of a payment: a PDF or a picture, checked by size and by what is in it, never by its name."""

import hashlib

from django.core.files import File

from inventory.errors import Refused

MOST_BYTES = 5 * 2**20
_BEGINS = {b"%PDF-": ".pdf", b"\xff\xd8\xff": ".jpg", b"\x89PNG\r\n\x1a\n": ".png"}


def check_proof(file: File, *, field: str = "proof") -> tuple[str, str]:  # type: ignore[type-arg]
    """The ending for its own name, and the SHA-256 of its bytes; Refused when it is too large or neither kind."""
    size = file.size or 0
    if not 0 < size <= MOST_BYTES:
        raise Refused(
            "proof_size", f"The file has {size:,} bytes; 1 to {MOST_BYTES:,} are taken.", field=field, got=size,
            mend="Scan it smaller, as a PDF, JPEG or PNG.",
        )  # fmt: skip
    file.seek(0)
    content = file.read()
    file.seek(0)
    ending = next((ending for begin, ending in _BEGINS.items() if content.startswith(begin)), None)
    if ending is None:
        raise Refused(
            "proof_kind", f"“{file.name}” is no PDF, JPEG or PNG.", field=field, got=file.name,
            mend="Save it as one of these.",
        )  # fmt: skip
    return ending, hashlib.sha256(content).hexdigest()
