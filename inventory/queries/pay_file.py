"""The pay report as one CSV file, safe to open in a spreadsheet program."""

import csv
import io

from inventory.queries.pay_report import PayReport
from inventory.rules import money
from inventory.sheets.cells import escape_formula

HEAD = (
    "who", "part", "percent", "stock_number", "vehicle", "statement", "approved_on", "commission_usd", "share_usd",
)  # fmt: skip
THE_LOT = "The lot"


def pay_csv(report: PayReport) -> str:
    """A row for each share and one for what is left to the lot: together the commissions of the month."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(HEAD)
    for statement in report.statements:
        stay = statement.settlement.consignment
        about = [stay.stock_number, str(stay.vehicle), statement.settlement.number, str(statement.settlement.on)]
        commission = f"{money.round_money(statement.commission):f}"
        rows = [
            [str(line.share.user), line.share.get_part_display(), f"{line.share.percent:f}", *about, commission,
             f"{money.round_money(line.amount):f}"]
            for line in statement.lines
        ]  # fmt: skip
        for row in [*rows, [THE_LOT, "", "", *about, commission, f"{money.round_money(statement.left):f}"]]:
            writer.writerow([cell if _is_number(cell) else escape_formula(cell) for cell in row])
    return out.getvalue()


def _is_number(cell: str) -> bool:
    """A negative amount begins with a minus and is no formula."""
    return cell.removeprefix("-").replace(".", "", 1).isdigit()
