"""The pay report as one CSV file, safe to open in a spreadsheet program."""

import io
from collections.abc import Iterator

from inventory.queries.pay_report import PayReport
from inventory.rules import money
from inventory.sheets.safe_csv import Value, write_rows

HEAD = (
    "who", "part", "percent", "stock_number", "vehicle", "statement", "approved_on", "commission_usd", "share_usd",
)  # fmt: skip
THE_LOT = "The lot"


def pay_csv(report: PayReport) -> str:
    """A row for each share and one for what is left to the lot: together the commissions of the month."""
    out = io.StringIO(newline="")
    write_rows(out, rows=[HEAD, *_rows(report)])
    return out.getvalue()


def _rows(report: PayReport) -> Iterator[list[Value]]:
    for statement in report.statements:
        stay = statement.settlement.consignment
        about = [stay.stock_number, str(stay.vehicle), statement.settlement.number, str(statement.settlement.on)]
        commission = money.round_money(statement.commission)
        for line in statement.lines:
            share = line.share
            told = [str(share.user), share.get_part_display(), f"{share.percent:f}"]
            yield [*told, *about, commission, money.round_money(line.amount)]
        yield [THE_LOT, "", "", *about, commission, money.round_money(statement.left)]
