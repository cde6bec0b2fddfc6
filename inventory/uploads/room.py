"""A full disk stops the database too: files from outside are refused before it comes to that."""

import shutil
from pathlib import Path

from django.conf import settings

from inventory.rules.media import check_disk


def free_bytes() -> int:
    """Where data and media lie, whichever has less: the one measure, for uploads, probes and figures."""
    return min(shutil.disk_usage(_made(place)).free for place in (settings.DATA_DIR, settings.MEDIA_ROOT))


def _made(place: str | Path) -> Path:
    """A folder is made with its first file: until then the one above it tells."""
    path = Path(place)
    return next(folder for folder in (path, *path.parents) if folder.is_dir())


def refuse_full_disk(more: int) -> None:
    check_disk(free_bytes(), more=more, least=settings.LEAST_FREE_DISK)
