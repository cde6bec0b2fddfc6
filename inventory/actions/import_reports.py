"""What came of one file, of whatever kind: counted, kept with the upload, and told row by row."""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from functools import wraps
from pathlib import Path
from typing import Any, ParamSpec

from django.db import IntegrityError

from inventory.models import SalesImport
from inventory.rules.floor_words import ImportKind
from inventory.rules.roles import Act, Actor
from inventory.sheets import Reject, Warned

P = ParamSpec("P")
Progress = Callable[[int, int], None]
SHOWN_REJECTS = 1000  # kept with the report; the rejects file holds all of them
ACTS: dict[str, Act] = {
    ImportKind.PAST_SALES: Act.IMPORT_SALES,
    ImportKind.ELSEWHERE: Act.RECORD_ELSEWHERE,
    ImportKind.STOCK: Act.IMPORT_STOCK,
}


@dataclass
class Report:
    """What came of one file. `read` is always `imported + already + rejected`."""

    read: int = 0
    imported: int = 0
    already: int = 0
    rejected: int = 0
    rejects: list[dict[str, Any]] = field(default_factory=list)
    warnings: list[dict[str, Any]] = field(default_factory=list)

    def as_json(self, *, most: int | None = None) -> dict[str, Any]:
        return {**self.__dict__, "rejects": self.rejects[:most], "warnings": self.warnings[:most]}

    def note_reject(self, reject: Reject) -> None:
        self.rejected += 1
        self.rejects.append(
            {"row": reject.row, "column": reject.column, "value": reject.value, "reason": reject.reason}
        )

    def warn(self, warned: Warned) -> None:
        self.warnings.append({"row": warned.row, "column": warned.column, "message": warned.message})


def judged_anew(take: Callable[P, Report]) -> Callable[P, Report]:
    """Two files with the same rows at once: the database lets one through, for the other the rows are known by then."""

    @wraps(take)
    def taken(*args: P.args, **given: P.kwargs) -> Report:
        try:
            return take(*args, **given)
        except IntegrityError:
            return take(*args, **given)

    return taken


def begun(*, total: int, warnings: tuple[str, ...]) -> Report:
    """A report before the first row, with what is to be said of the file as a whole."""
    return Report(read=total, warnings=[{"row": None, "column": "", "message": text} for text in warnings])


def record_of(path: Path, *, name: str, kind: ImportKind, by: Actor, at: datetime) -> SalesImport:
    """The record of a file that came by the command line."""
    return SalesImport(name=name[:200], digest=digest_of(path), kind=kind, by=by.name, at=at)


def digest_of(path: Path) -> str:
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while block := file.read(2**20):
            digest.update(block)
    return digest.hexdigest()
