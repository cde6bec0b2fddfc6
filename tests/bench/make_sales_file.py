"""Writes a large invented file of past sales, to time an import by hand.

python -m tests.bench.make_sales_file sales.csv --rows 100000 --bad-every 50
"""

import argparse
import csv
import random
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path

import openpyxl

HEADERS = (
    *("Stock #", "VIN", "Yr", "Make", "Model", "Trim", "Body Style", "Motor", "Trans", "Build Class", "Colour"),
    *("Odometer", "Odometer Status", "Condition", "Originality", "Title Brand", "Mods", "Arrived", "Listed"),
    *("First Ask", "Last Ask", "Result", "Reason", "Channel", "Sale Date", "Sold Price"),
)
MODELS = {
    "Corvane": ("Meridian", "Halcyon", "Tern"),
    "Brightwater": ("Osprey", "Lantern", "Plover Six"),
    "Aldine": ("Forty", "Forty-Two", "Royal"),
    "Thornbury": ("Drover", "Ferryman", "Nightjar"),
}
FAULTS = ("no price", "no such day", "bad year", "negative price", "withdrawn with a price", "no make")


def sales(*, rows: int, bad_every: int, seed: int) -> Iterator[list[str]]:
    """Rows as text; every `bad_every`th carries one fault (0: none)."""
    draw = random.Random(seed)
    for number in range(1, rows + 1):
        cells = _sale(draw, number=number)
        if bad_every and number % bad_every == 0:
            _spoil(cells, fault=FAULTS[(number // bad_every) % len(FAULTS)])
        yield list(cells.values())


def _sale(draw: random.Random, *, number: int) -> dict[str, str]:
    make = draw.choice(list(MODELS))
    year = draw.randint(1946, 1998)
    arrived = date(2015, 1, 1) + timedelta(days=draw.randint(0, 3500))
    listed = arrived + timedelta(days=draw.randint(2, 30))
    ended = listed + timedelta(days=draw.randint(1, 200))
    ask = draw.randint(60, 1800) * 100
    sold = draw.random() < 0.8
    condition = draw.randint(40, 95)
    values = (
        f"B{number:06d}",
        "" if year < 1981 else f"{draw.randint(10**6, 10**7 - 1)}XR{number:06d}",
        str(year),
        make,
        draw.choice(MODELS[make]),
        draw.choice(("", "Deluxe", "Touring")),
        draw.choice(("coupe", "sedan", "convertible", "wagon")),
        draw.choice(("straight six", "V8 5.2", "flat four", "")),
        draw.choice(("4-speed manual", "3-speed automatic")),
        draw.choice(("survivor", "Restored", "modified", "")),
        draw.choice(("red", "dark green", "ivory", "two-tone blue")),
        draw.choice((f"{draw.randint(1, 180):,},{draw.randint(0, 999):03d}", f"{draw.randint(5, 180)}k", "TMU", "")),
        "",
        draw.choice((str(condition), f"{condition}-{condition + 4}", "")),
        draw.choice((str(draw.randint(30, 100)), "")),
        draw.choice(("clean", "", "salvage")),
        draw.choice(("", "disc brakes; headers", "none")),
        f"{arrived:%m/%d/%Y}",
        f"{listed:%m/%d/%Y}",
        f"${ask:,}",
        f"${ask - draw.randint(0, 20) * 100:,}",
        "sold" if sold else "withdrawn",
        "" if sold else "changed mind",
        draw.choice(("lot", "online", "phone")),
        f"{ended:%m/%d/%Y}",
        f"${ask - draw.randint(5, 30) * 100:,}.00" if sold else "",
    )
    return dict(zip(HEADERS, values, strict=True))


def _spoil(cells: dict[str, str], *, fault: str) -> None:
    sold = {"Result": "sold", "Reason": ""}
    changes = {
        "no price": {**sold, "Sold Price": ""},
        "no such day": {"Sale Date": "02/30/2020"},
        "bad year": {"Yr": "1066"},
        "negative price": {**sold, "Sold Price": "-$5,000"},
        "withdrawn with a price": {"Result": "withdrawn", "Sold Price": "$9,000"},
        "no make": {"Make": ""},
    }
    cells.update(changes[fault])


def write_csv(path: Path, *, rows: Iterator[list[str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(HEADERS)
        writer.writerows(rows)


def write_workbook(path: Path, *, rows: Iterator[list[str]]) -> None:
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("Sales")
    sheet.append(HEADERS)
    for row in rows:
        sheet.append(row)
    book.save(path)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("path", type=Path)
    parser.add_argument("--rows", type=int, default=100_000)
    parser.add_argument("--bad-every", type=int, default=50)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    write = write_workbook if asked.path.suffix == ".xlsx" else write_csv
    write(asked.path, rows=sales(rows=asked.rows, bad_every=asked.bad_every, seed=asked.seed))


if __name__ == "__main__":
    main()
