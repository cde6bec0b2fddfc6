"""A backup: one zip file with every record, every file of the media, and a manifest that says what must be in it.

`manifest.json` names the migrations the tables stood at, and of each table its columns, rows, SHA-256, sums of money;
`tables/<table>.jsonl` holds one JSON object a row, by primary key; `media/…` holds the files as they are.
"""

from inventory.backup.archive import Archive, check_archive
from inventory.backup.loading import Differs, Restored, Target, look_at, restore
from inventory.backup.manifest import FileTold, Manifest, TableTold
from inventory.backup.writing import Made, write_backup

__all__ = [
    "Archive", "Differs", "FileTold", "Made", "Manifest", "Restored", "TableTold", "Target", "check_archive", "look_at",
    "restore", "write_backup",
]  # fmt: skip
