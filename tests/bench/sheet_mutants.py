"""Broken spreadsheets, made from whole ones by a seed: what fingers, programs and people of ill will do to a file."""

import csv
import io
import random
import struct
import warnings
import zipfile
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import openpyxl

from inventory.sheets import stock_template

ROOT = Path(__file__).resolve().parents[2]
# A cell as somebody might type it, and as nobody should.
CELLS = (
    "", " ", "-", "n/a", "=1+1", "=HYPERLINK(\"http://a.example\",\"x\")", "+1", "-1+1", "@SUM(A1)", "\t=1", "'=1",
    "1.234,56", "1,234.56", "1 234", "1'234", "$-5", "(500)", "1e400", "9" * 40, "0x1F",
    "٤٢", "１９６９", "½", "nan", "inf",
    "2020-13-45", "31/02/2020", "0000-00-00", "99/99/9999", "29 Feb 2019", "yesterday", "'69", "3/4/5", "12:61",
    "\u202eabc", "שלום", "🚗🚗", "e\u0301" * 30, "\ufeff", "\u2028", "a\x00b",
    "\x1b[31m", "x" * 3000, "\"", "\"\"", "a\nb",
    "<b>x</b>", "{{ 7*7 }}", "%s%n", "'; DROP TABLE x;--", "../../etc/passwd", "NULL", "TRUE", "#REF!",
)  # fmt: skip
HEADERS = (
    "year",
    "Make",
    "MODEL ",
    "Price",
    "Stock #",
    "",
    "year",
    "=1",
    "x" * 500,
    "🚗",
    "Date",
    "reject_reason",
    "\u202eraey",
)
BOOK_PARTS = (
    "xl/worksheets/sheet1.xml",
    "xl/workbook.xml",
    "xl/styles.xml",
    "xl/sharedStrings.xml",
    "xl/_rels/workbook.xml.rels",
)
PIECES = (
    b"", b"<c", b"</row>", b"<![CDATA[", b"&#0;", b"&lol;", b'r="ZZZZ9999999"', b'r="A1048577"', b'r="A0"', b'r="-1"',
    b't="s"',
    b"<v>99999999</v>", b"<f>1+1</f>", b't="e"', b"\xff\xfe", b"<!DOCTYPE x [<!ENTITY a 'b'>]>", b"<row r='1'>",
    b"1e999",
    b"<mergeCell ref='A1:XFD1048576'/>", b"<dimension ref='A1:XFD1048576'/>", b"s='999999'", b"t='d'",
    b"<v>2958466</v>",
)  # fmt: skip
GOOD_SALES = (
    "stock_number,year,make,model,ended_on,price,result,mileage,notes",
    "A-{0},19{1},Merrow,Alder,2020-0{2}-1{2},{3},sold,{4},fine",
)
GOOD_ELSEWHERE = (
    "source,year,make,model,ended_on,price,outcome",
    "Fen sale,19{1},Merrow,Alder,2020-0{2}-1{2},{3},sold",
)
Mutation = Callable[[bytes, random.Random], bytes]


def good_table(kind: str, chance: random.Random) -> list[list[str]]:
    """A header and up to a dozen good rows."""
    if kind == "stock":
        table = list(csv.reader(io.StringIO(stock_template().lstrip("\ufeff"))))
        return table[:1] + [
            [f"Z-{n}" if at == 0 and cell else cell for at, cell in enumerate(row)] for n, row in enumerate(table[1:])
        ]
    head, row = GOOD_ELSEWHERE if kind == "elsewhere" else GOOD_SALES
    rows = [
        row.format(
            chance.randrange(10**6), chance.randrange(50, 80), chance.randrange(1, 10),
            chance.randrange(5000, 90000), number,
        )
        for number in range(chance.randrange(1, 12))
    ]  # fmt: skip
    return list(csv.reader([head, *rows]))


@cache
def ugly(kind: str) -> bytes:
    name = "current_stock_ugly.csv" if kind == "stock" else "past_sales_ugly.csv"
    return (ROOT / "fixtures" / "ugly" / name).read_bytes()


def written(table: list[list[str]], *, chance: random.Random) -> bytes:
    out = io.StringIO()
    end = chance.choice(["\r\n", "\n", "\r"])
    csv.writer(out, delimiter=chance.choice(",;\t,,,"), lineterminator=end, quoting=chance.choice([0, 0, 1])).writerows(
        table
    )
    return out.getvalue().encode("utf-8", "surrogatepass")


def with_odd_cells(table: list[list[str]], chance: random.Random) -> list[list[str]]:
    for _ in range(chance.randrange(1, 5)):
        row = chance.choice(table)
        if row:
            row[chance.randrange(len(row))] = chance.choice(HEADERS if row is table[0] else CELLS)
    if chance.random() < 0.2:
        chance.choice(table).extend(chance.choices(CELLS, k=chance.choice([1, 3, 250])))
    if chance.random() < 0.2:
        table.append(list(chance.choice(table)))
    return table


def flipped(content: bytes, chance: random.Random) -> bytes:
    changed = bytearray(content)
    for _ in range(chance.randrange(1, 9)):
        changed[chance.randrange(len(changed))] = chance.randrange(256)
    return bytes(changed)


def cut(content: bytes, chance: random.Random) -> bytes:
    return content[: chance.randrange(len(content))]


def spliced(content: bytes, chance: random.Random) -> bytes:
    at, to = sorted((chance.randrange(len(content)), chance.randrange(len(content))))
    return content[:to] + content[at:]


def stuffed(content: bytes, chance: random.Random) -> bytes:
    at = chance.randrange(len(content))
    piece = chance.choice(
        [
            chance.randbytes(9),
            b'"',
            b"\x00" * 50,
            b"\r",
            b"\n\r\n",
            b"\xef\xbb\xbf",
            "🚗\u202e".encode(),
            b"\xed\xa0\x80",
            b"," * 300,
        ]
    )
    return content[:at] + piece + content[at:]


def recoded(content: bytes, chance: random.Random) -> bytes:
    text = content.decode("utf-8", "ignore")
    code = chance.choice(
        ["utf-16", "utf-16-le", "utf-16-be", "utf-32", "latin-1", "cp1252", "utf-7", "cp037", "utf-8-sig"]
    )
    made = text.encode(code, "replace")
    return chance.choice([b"", b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff", b"\xff\xfe\x00\x00"]) + made


def surrogates(content: bytes, chance: random.Random) -> bytes:
    """Half characters, in the two codings that can spell them."""
    text = content.decode("utf-8", "ignore")
    at = chance.randrange(len(text) + 1)
    text = text[:at] + chance.choice(["\ud800", "\udfff"]) + text[at:]
    return (
        b"\xff\xfe" + text.encode("utf-16-le", "surrogatepass")
        if chance.random() < 0.5
        else text.encode("utf-8", "surrogatepass")
    )


def huge(content: bytes, chance: random.Random) -> bytes:
    at = chance.randrange(len(content))
    return (
        content[:at]
        + chance.choice([b"x", b'"', b"a,", b"\n", b"9"]) * chance.choice([140_000, 1_100_000])
        + content[at:]
    )


def bare(content: bytes, chance: random.Random) -> bytes:
    return chance.choice(
        [
            b"",
            b"\n",
            b"\x00",
            b"\xef\xbb\xbf",
            content.splitlines()[0] if content.splitlines() else b"",
            b"sep=;\n" + content,
            b"\r" * 90,
        ]
    )


def ends_mixed(content: bytes, chance: random.Random) -> bytes:
    return b"".join(
        line + chance.choice([b"\r", b"\n", b"\r\n", b"\n\r", "\u2028".encode(), b"\x0b"])
        for line in content.splitlines()
    )


TEXT: tuple[Mutation, ...] = (flipped, cut, spliced, stuffed, recoded, surrogates, huge, bare, ends_mixed)


def book(table: list[list[str]], *, chance: random.Random) -> bytes:
    made = openpyxl.Workbook()
    for row in table:
        cells: list[Any] = list(row)
        cells = [
            int(cell) if cell.isascii() and cell.isdigit() and len(cell) < 12 and chance.random() < 0.8 else cell
            for cell in cells
        ]
        made.active.append(
            [
                cell if not isinstance(cell, str) else openpyxl.cell.cell.ILLEGAL_CHARACTERS_RE.sub("", cell)
                for cell in cells
            ]
        )
    kept = io.BytesIO()
    made.save(kept)
    return kept.getvalue()


def repacked(content: bytes, chance: random.Random) -> bytes:
    """The zip whole, its markup not: pieces put in, taken out, or one word for another."""
    part, kept = chance.choice(BOOK_PARTS), io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(kept, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            inner = old.read(name)
            for _ in range(chance.randrange(1, 4) if name == part else 0):
                at = chance.randrange(len(inner))
                inner = inner[:at] + chance.choice(PIECES) + inner[at + chance.choice([0, 0, 5, 40]) :]
            new.writestr(name, inner)
    return kept.getvalue()


def repositioned(content: bytes, chance: random.Random) -> bytes:
    kept = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(kept, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            inner = old.read(name)
            if name == BOOK_PARTS[0]:
                odd = chance.choice(
                    [b"XFD1048576", b"A4294967296", b"AAAAAAAA1", b"a1", b"B2 ", b"1A", b"", b"GR100002", b"C\xd9\xa1"]
                )
                inner = inner.replace(chance.choice([b'r="A2"', b'r="B1"', b'r="2"']), b'r="' + odd + b'"', 1)
            new.writestr(name, inner)
    return kept.getvalue()


def bomb(content: bytes, chance: random.Random) -> bytes:
    """A few kilobytes that unpack to some megabytes, or that say they do."""
    kept = io.BytesIO(content)
    with warnings.catch_warnings(action="ignore"), zipfile.ZipFile(kept, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(
            chance.choice(["xl/media/x.xml", "docProps/y.xml", "xl/worksheets/sheet1.xml"]),
            b"<a>" + b"\x20" * 6_000_000,
        )
    made = bytearray(kept.getvalue())
    if chance.random() < 0.5:  # the size told in the directory is another
        at = made.rfind(b"PK\x01\x02")
        made[at + 24 : at + 28] = struct.pack("<I", chance.choice([0, 2**31, 2**32 - 1]))
    return bytes(made)


BOOK: tuple[Mutation, ...] = (
    flipped,
    cut,
    spliced,
    stuffed,
    repacked,
    repacked,
    repacked,
    repositioned,
    repositioned,
    bomb,
)


def mutant(seed: int) -> tuple[str, str, bytes]:
    """Its kind, its name and its bytes: the same for the same seed."""
    chance = random.Random(seed)
    kind = chance.choice(["past_sales"] * 7 + ["elsewhere", "elsewhere", "stock"])
    table = good_table(kind, chance)
    if chance.random() < 0.7:
        table = with_odd_cells(table, chance)
    if chance.random() < 0.4:
        content = book(table, chance=chance)
        how = [chance.choice(BOOK)] if chance.random() < 0.8 else []
        name = "sheet.xlsx"
    else:
        content = ugly(kind) if chance.random() < 0.2 else written(table, chance=chance)
        how = chance.choices(TEXT, k=chance.choice([0, 1, 1, 1, 2]))
        name = chance.choice(["sheet.csv", "sheet.csv", "sheet.txt", "sheet.tsv"])
    for change in how:
        content = change(content, chance) if content else content
    if chance.random() < 0.02:
        name = chance.choice(["sheet.csv", "sheet.xlsx", "sheet"])
    return kind, name, content
