"""The comparison grid as a CSV file: a row for each sale, then what they come to and the band beside it."""

import io
from collections.abc import Iterable
from decimal import Decimal

from inventory.queries.comparison import Grid, SaleSeen
from inventory.sheets.safe_csv import Value, write_rows

HEAD = ("row", "likeness (-1 to 1)", "stock number", "vehicle", "sale date", "channel", "days listed", "price ($)")
FOOT = ("adjusted price ($)", "net adjustment (% of price)", "gross adjustment (% of price)", "remarks")


def as_csv(grid: Grid) -> str:
    """Text is made safe for spreadsheet programs; amounts stay numbers, also those below zero."""
    out = io.StringIO()
    out.write("\ufeff")  # lets spreadsheet programs read the file as UTF-8
    adjustments = [f"{line.label} ($)" for line in grid.lines]
    write_rows(out, rows=[[*HEAD, *adjustments, *FOOT], *_rows(grid)])
    return out.getvalue()


def _rows(grid: Grid) -> Iterable[list[Value]]:
    for place, sale in enumerate(grid.sales):
        amounts = [line.cells[place].amount for line in grid.lines]
        yield [f"sale {place + 1}", *_head(sale), *amounts, *_foot(sale)]
    opinion = grid.opinion
    told = [("reconciled", grid.reconciled), ("low", opinion.low), ("likely", opinion.likely), ("high", opinion.high)]
    for name, amount in told:
        yield _one(name, amount=amount, lines=len(grid.lines), remark=grid.verdict if name == "reconciled" else "")


def _head(sale: SaleSeen) -> list[Value]:
    return [
        sale.likeness, sale.stock_number, sale.vehicle, sale.ended_on, sale.channel, sale.days_listed, sale.sale_price,
    ]  # fmt: skip


def _foot(sale: SaleSeen) -> list[Value]:
    return [sale.adjusted_price, sale.net, sale.gross, " ".join(sale.marks)]


def _one(name: str, *, amount: Decimal | None, lines: int, remark: str) -> list[Value]:
    blank: list[Value] = [None] * (len(HEAD) - 1 + lines)
    return [name, *blank, amount, None, None, remark]
