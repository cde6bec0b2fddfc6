"""What a backup says about itself. A manifest may come from anywhere: it is read strictly and refused by name."""

import json
import re
from dataclasses import asdict, dataclass, field
from datetime import datetime
from decimal import Decimal, InvalidOperation
from pathlib import PurePosixPath
from typing import Any

from inventory.errors import Refused

FORMAT = 1
MOST_BYTES = 256 * 2**20  # of the manifest itself: some 1.5 million files
_SHA256 = re.compile(r"\A[0-9a-f]{64}\Z")
_TABLE = re.compile(r"\A[a-z0-9_]+\.[a-z0-9_]+\Z")


@dataclass(frozen=True)
class FileTold:
    size: int
    sha256: str


@dataclass(frozen=True)
class TableTold:
    columns: tuple[str, ...]
    rows: int
    size: int
    sha256: str
    money: dict[str, str]


@dataclass(frozen=True)
class Manifest:
    made_at: datetime
    database: str
    migrations: tuple[tuple[str, str], ...]
    tables: dict[str, TableTold]
    media: dict[str, FileTold]
    missing: tuple[str, ...] = ()  # named by a row, and not there
    gone: tuple[str, ...] = ()  # deleted, with its row's leave, while the backup was made
    format: int = field(default=FORMAT)

    @property
    def rows(self) -> int:
        return sum(table.rows for table in self.tables.values())

    @property
    def media_bytes(self) -> int:
        return sum(file.size for file in self.media.values())

    @property
    def money(self) -> dict[str, str]:
        """Every column of money, `table.column`, with the sum of what stands in it."""
        return {
            f"{name}.{column}": total for name, table in self.tables.items() for column, total in table.money.items()
        }

    def as_json(self) -> bytes:
        told = asdict(self) | {"made_at": self.made_at.isoformat()}
        return json.dumps(told, indent=1, ensure_ascii=False, sort_keys=True).encode()


def read_manifest(text: bytes) -> Manifest:
    try:
        told = json.loads(text)
        if not isinstance(told, dict) or told.get("format") != FORMAT:
            raise _bad(f"its format is not {FORMAT}", mend="It was made by another version; use that one.")
        return _manifest(told)
    except (KeyError, TypeError, ValueError, AttributeError, RecursionError, InvalidOperation) as problem:
        raise _bad("its manifest cannot be read") from problem


def _manifest(told: dict[str, Any]) -> Manifest:
    made_at = datetime.fromisoformat(told["made_at"])
    if made_at.tzinfo is None:
        raise ValueError("made_at")
    return Manifest(
        made_at=made_at,
        database=str(told["database"]),
        migrations=tuple((str(app), str(name)) for app, name in told["migrations"]),
        tables={_table_name(name): _table(table) for name, table in told["tables"].items()},
        media={media_name(name): _file(file) for name, file in told["media"].items()},
        missing=tuple(map(str, told["missing"])),
        gone=tuple(map(str, told["gone"])),
    )


def _table_name(name: str) -> str:
    if not _TABLE.match(name):
        raise _bad(f"it names a table {name!r:.60}")
    return name


def _table(told: dict[str, Any]) -> TableTold:
    money = {str(column): str(total) for column, total in told["money"].items()}
    if not all(Decimal(total).is_finite() for total in money.values()):
        raise ValueError("money")
    columns = tuple(map(str, told["columns"]))
    return TableTold(columns=columns, rows=_count(told["rows"]), money=money, **asdict(_file(told)))


def _file(told: dict[str, Any]) -> FileTold:
    if not _SHA256.match(told["sha256"]):
        raise ValueError("sha256")
    return FileTold(size=_count(told["size"]), sha256=told["sha256"])


def _count(told: Any) -> int:
    if type(told) is not int or told < 0:
        raise ValueError("count")
    return told


def media_name(name: str) -> str:
    """The name of a file below the media, and nothing that leads out of there."""
    path = PurePosixPath(name)
    if (
        not name
        or str(path) != name
        or path.is_absolute()
        or ".." in path.parts
        or name == "."
        or any(mark in name for mark in "\\:\0")
    ):
        raise _bad(f"it names a file {name!r:.80}, which is no place below the media")
    return name


def _bad(what: str, *, mend: str = "Nothing was written.") -> Refused:
    return Refused("bad_backup", f"This backup is refused: {what}.", field="file", mend=mend)
