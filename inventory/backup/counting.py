"""The rows of one table as they pass: counted, hashed, their money added up, their files noted."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from inventory.backup.archive import Digest
from inventory.backup.manifest import TableTold
from inventory.backup.tables import Table
from inventory.backup.values import line_of
from inventory.rules import money


class Count:
    def __init__(self, table: Table) -> None:
        self._table, self._digest, self._rows = table, Digest(), 0
        self._columns, self._money, self._files = table.columns, table.money, table.files
        self._sums = dict.fromkeys(self._money, Decimal("0.00"))
        self.files: set[str] = set()

    def lines(self, using: str) -> Iterator[bytes]:
        for row in self._table.rows(using):
            line = line_of(self._columns, values=row)
            self._digest.take(line)
            self._add(row)
            yield line

    def _add(self, row: tuple[Any, ...]) -> None:
        self._rows += 1
        for place in self._money:
            if row[place] is not None:
                self._sums[place] = money.total([self._sums[place], row[place]])
        self.files.update(row[place] for place in self._files if row[place])

    def told(self) -> TableTold:
        file = self._digest.told()
        sums = {self._columns[place]: format(total, "f") for place, total in self._sums.items()}
        return TableTold(columns=self._columns, rows=self._rows, size=file.size, sha256=file.sha256, money=sums)


def count(table: Table, *, using: str) -> TableTold:
    """What the table holds now, told as a manifest tells it."""
    counted = Count(table)
    for _ in counted.lines(using):
        pass
    return counted.told()
