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
    return at(request.getfixturevalue("server") if request.param == "postgres" else None, folder=tmp_path)


def at(address: str | None, *, folder: Path) -> dict[str, str]:
    """The environment of a lot on a database of its own."""
    environment = {**os.environ, "DATA_DIR": str(folder), "TASKS": "immediate"}
    environment.pop("DATABASE_URL", None)
    return environment | ({"DATABASE_URL": address} if address else {})


def seller(*arguments: str, lot: dict[str, str]) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "tests.races.seller", *arguments]
    return subprocess.Popen(command, cwd=ROOT, env=lot, stdout=subprocess.PIPE, text=True)


def answer(process: subprocess.Popen[str]) -> str:
    out, _ = process.communicate(timeout=120)
    assert process.returncode == 0
    return out.strip()


def prepared(count: int, *, lot: dict[str, str]) -> list[str]:
    """The stock numbers of so many listed vehicles, with the tables of their lot."""
    return answer(seller("prepare", str(count), lot=lot)).split()


def race(way: str, stock_number: str, *, lot: dict[str, str], folder: Path) -> list[str]:
    meeting = folder / f"{way}-{stock_number}"
    meeting.mkdir()
    racers = [seller(way, stock_number, name, str(meeting), lot=lot) for name in ("Ann", "Ben")]
    return sorted((answer(racer) for racer in racers), reverse=True)


def test_two_sellers_make_one_sale(lot: dict[str, str], tmp_path: Path) -> None:
    stock_numbers = prepared(2, lot=lot)
    for stock_number in stock_numbers:
        won, lost = race("careful", stock_number, lot=lot, folder=tmp_path)
        assert won == "sold"
        assert re.match(r"refused: A consignment that is sold \(by (Ann|Ben), \d{4}-\d\d-\d\d", lost)
    assert answer(seller("count", lot=lot)).split() == sorted(stock_numbers)


@pytest.mark.postgres
def test_without_the_lock_both_would_have_sold(server: str, tmp_path: Path) -> None:
    """The race is real: read, decide, write lets both win on PostgreSQL."""
    lot = at(server, folder=tmp_path)
    (stock_number,) = prepared(1, lot=lot)
    assert race("naive", stock_number, lot=lot, folder=tmp_path) == ["sold", "sold"]


@pytest.mark.postgres
def test_two_workers_send_one_mail_once_where_reading_first_would_send_it_twice(server: str, tmp_path: Path) -> None:
    lot = at(server, folder=tmp_path)
    prepared(0, lot=lot)
    told = subprocess.run(
        [sys.executable, "-m", "tests.races.mailer"], cwd=ROOT, env=lot, capture_output=True, text=True
    )
    assert told.stdout.split() == ["1", "1", "1", "1", "1", "2"], told.stderr
