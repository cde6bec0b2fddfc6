"""Two processes mark the same vehicle sold at once: exactly one outcome, and the other is told by whom.

And two workers take the same mail at once: one sends it.
"""

import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.servers import postgres

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def server() -> Iterator[str]:
    with postgres() as url:
        yield url


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def lot(request: pytest.FixtureRequest, tmp_path: Path) -> dict[str, str]:
    """The environment of a lot on a database of its own."""
    environment = {**os.environ, "DATA_DIR": str(tmp_path), "TASKS": "immediate"}
    environment.pop("DATABASE_URL", None)
    if request.param == "postgres":
        environment["DATABASE_URL"] = request.getfixturevalue("server")
    subprocess.run([sys.executable, "manage.py", "migrate", "-v0"], cwd=ROOT, env=environment, check=True)
    return environment


def seller(*arguments: str, lot: dict[str, str]) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "tests.races.seller", *arguments]
    return subprocess.Popen(command, cwd=ROOT, env=lot, stdout=subprocess.PIPE, text=True)


def answer(process: subprocess.Popen[str]) -> str:
    out, _ = process.communicate(timeout=60)
    assert process.returncode == 0
    return out.strip()


def race(way: str, *, lot: dict[str, str], folder: Path) -> tuple[str, list[str]]:
    stock_number = answer(seller("prepare", lot=lot))
    meeting = folder / f"{way}-{stock_number}"
    meeting.mkdir()
    racers = [seller(way, stock_number, name, str(meeting), lot=lot) for name in ("Ann", "Ben")]
    return stock_number, sorted((answer(racer) for racer in racers), reverse=True)


def outcomes_of(stock_number: str, *, lot: dict[str, str]) -> int:
    return int(answer(seller("count", stock_number, lot=lot)))


def test_two_sellers_make_one_sale(lot: dict[str, str], tmp_path: Path) -> None:
    for _ in range(2):
        stock_number, (won, lost) = race("careful", lot=lot, folder=tmp_path)
        assert won == "sold"
        assert re.match(r"refused: A consignment that is sold \(by (Ann|Ben), \d{4}-\d\d-\d\d", lost)
        assert outcomes_of(stock_number, lot=lot) == 1


@pytest.mark.postgres
def test_without_the_lock_both_would_have_sold(server: str, tmp_path: Path) -> None:
    """The race is real: read, decide, write lets both win on PostgreSQL."""
    lot = {**os.environ, "DATA_DIR": str(tmp_path), "TASKS": "immediate", "DATABASE_URL": server}
    subprocess.run([sys.executable, "manage.py", "migrate", "-v0"], cwd=ROOT, env=lot, check=True)
    assert race("naive", lot=lot, folder=tmp_path)[1] == ["sold", "sold"]


@pytest.mark.postgres
def test_two_workers_send_one_mail_once_where_reading_first_would_send_it_twice(server: str, tmp_path: Path) -> None:
    lot = {**os.environ, "DATA_DIR": str(tmp_path), "TASKS": "immediate", "DATABASE_URL": server}
    subprocess.run([sys.executable, "manage.py", "migrate", "-v0"], cwd=ROOT, env=lot, check=True)
    told = subprocess.run(
        [sys.executable, "-m", "tests.races.mailer"], cwd=ROOT, env=lot, capture_output=True, text=True
    )
    assert told.stdout.split() == ["1", "1", "1", "1", "1", "2"], told.stderr
