"""The file that keeps what the price bench has computed: a line of JSON for each set, n, split and method.

It is only ever appended to, so that two runs may write it at a time: a method is forgotten by a line that says so.
"""

import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from pathlib import Path

FIGURES = ("mdape", "ppe10", "cod", "prd", "coverage", "score", "answered", "seconds")


@dataclass(frozen=True)
class Line:
    """The figures of one method on one split of one cell.

    `mdape` and `cod` in percent; `ppe10` as a share; `answered` is the share of rows that were given a band, `coverage`
    the share of those that fell inside; `score` is the mean 80 % interval score on log price; `seconds` of processor
    time, fit and prediction.
    """

    name: str
    sales: int
    split: int
    method: str
    mdape: float
    ppe10: float
    cod: float
    prd: float
    coverage: float
    score: float
    answered: float
    seconds: float

    @property
    def key(self) -> tuple[str, int, int, str]:
        return self.name, self.sales, self.split, self.method


def read(path: Path) -> list[Line]:
    """The lines that hold, the last one of each split and method."""
    kept: dict[tuple[str, int, int, str], Line] = {}
    for text in path.read_text().splitlines() if path.exists() else ():
        row = json.loads(text)
        if "forget" in row:
            kept = {key: line for key, line in kept.items() if line.method != row["forget"]}
        else:
            line = Line(**row)
            kept[line.key] = line
    return list(kept.values())


def append(path: Path, *, line: Line) -> None:
    _write(path, rows=[asdict(line)])


def forget(path: Path, *, methods: Iterable[str]) -> None:
    _write(path, rows=[{"forget": method} for method in methods])


def _write(path: Path, *, rows: list[dict[str, object]]) -> None:
    with path.open("a") as file:
        file.write("".join(f"{json.dumps(row)}\n" for row in rows))
