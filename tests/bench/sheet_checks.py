"""What must hold of any file that is sent to the import, however broken."""

import csv
import io
import json
from collections import Counter
from pathlib import Path

from django.db import transaction
from django.utils import timezone

from inventory.actions.importing import import_sales
from inventory.actions.importing_elsewhere import import_elsewhere
from inventory.actions.importing_stock import import_stock
from inventory.errors import Refused
from inventory.rules.roles import command
from inventory.sheets import Options
from tests.bench.sheet_mutants import mutant

IMPORTS = {"past_sales": import_sales, "elsewhere": import_elsewhere, "stock": import_stock}
# Everything answered that a file may leave open, so that it is read and not asked about.
SAID = Options(date_order="mdy", two_digit_years=1900, two_digit_dates=2000, source="told")


def held(seed: int, *, folder: Path, seen: Counter[str]) -> None:
    """One file, sent twice, in a transaction that is taken back. Raises whatever does not hold."""
    kind, name, content = mutant(seed)
    path = folder / name
    path.write_bytes(content)
    with transaction.atomic():
        what, first = sent(path, kind=kind)
        again = sent(path, kind=kind)[1] if first else {}
        transaction.set_rollback(True)
    seen[f"{kind}: {what}"] += 1
    seen["rows imported"] += first.get("imported", 0)
    seen["rows rejected"] += first.get("rejected", 0)
    seen["files with rows imported"] += bool(first.get("imported"))
    assert not again.get("imported"), f"imported twice: {again}"
    counted = rows_counted(name, content)
    if first and counted is not None:
        seen["counted by another reader"] += 1
        assert first["read"] == counted, f"read {first['read']}, another reader counts {counted}"


def sent(path: Path, *, kind: str) -> tuple[str, dict[str, int]]:
    """The counts of one import, or the code of its refusal."""
    rejects = path.with_name("rejects.csv")
    try:
        with transaction.atomic():
            report = IMPORTS[kind](
                path, name=path.name, options=SAID, by=command("import"), at=timezone.now(), rejects_to=rejects
            )
    except Refused as refusal:
        return one_clear_line(refusal), {}
    json.dumps(report.as_json()).encode()
    assert report.read == report.imported + report.already + report.rejected, "every row accounted for"
    with rejects.open(encoding="utf-8-sig", newline="") as file:
        assert sum(1 for _ in csv.reader(file)) == report.rejected + 1, "every reject is in its file"
    names = ("read", "imported", "already", "rejected")
    return "read", {name: getattr(report, name) for name in names}


def one_clear_line(refusal: Refused) -> str:
    text = str(refusal)
    text.encode()
    if not text.strip() or "\n" in text:
        raise AssertionError(f"no clear line: {text!r}")
    return refusal.code


def rows_counted(name: str, content: bytes) -> int | None:
    """Rows below the header by Python's own reader, where it is plain how the file is to be read; else None."""
    marked = content.startswith(b"\xef\xbb\xbf") or b"sep=" in content[:9].lower()
    if name.endswith(".xlsx") or marked or b"\x00" in content:
        return None
    try:
        text = content.decode("utf-8")
        head = next(csv.reader(io.StringIO(text, newline="")), [])
        delimiter = max(",;\t", key=lambda mark: ",".join(head).count(mark))
        rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
        table = [row for row in rows if any("".join(cell.split()) for cell in row)]
    except (UnicodeDecodeError, csv.Error):
        return None
    return len(table) - 1 if table and len(table[0]) > 3 else None
