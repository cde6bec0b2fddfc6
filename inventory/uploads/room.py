"""A full disk stops the database too: files from outside are refused before it comes to that."""

import shutil
from pathlib import Path

from django.conf import settings

from inventory.rules.media import check_disk


def refuse_full_disk(more: int) -> None:
    root = Path(settings.MEDIA_ROOT)
    made = next(folder for folder in (root, *root.parents) if folder.is_dir())  # it is made with its first file
    check_disk(shutil.disk_usage(made).free, more=more, least=settings.LEAST_FREE_DISK)
