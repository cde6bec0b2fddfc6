"""A fixed sample of the broken spreadsheets of `tests/bench/import_fuzz.py`, through the real import."""

from collections import Counter
from pathlib import Path

import pytest

from tests.bench.sheet_checks import held


@pytest.mark.django_db
def test_100_broken_files_are_refused_clearly_or_accounted_for_row_by_row(tmp_path: Path) -> None:
    seen = Counter[str]()
    for seed in range(100):
        held(seed, folder=tmp_path, seen=seen)
    assert seen["files with rows imported"] > 15, seen  # it reaches past the refusals
    assert seen["counted by another reader"] > 8, seen
