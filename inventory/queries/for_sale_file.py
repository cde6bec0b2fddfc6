"""What is for sale as one CSV file, safe to open in a spreadsheet program."""

import io
from collections.abc import Iterable

from inventory.queries.for_sale import ForSale
from inventory.rules import money
from inventory.sheets.safe_csv import write_rows

HEAD = (
    "stock_number", "name", "year", "make", "model", "body", "engine", "engine_rests_on", "transmission",
    "transmission_rests_on", "colour", "serial", "mileage", "odometer_status", "title_brand", "ask_usd", "availability",
    "known_faults", "address",
)  # fmt: skip


def for_sale_csv(rows: Iterable[tuple[ForSale, str]]) -> str:
    """The file, of vehicles with their addresses."""
    out = io.StringIO(newline="")
    write_rows(out, rows=[HEAD, *(_cells(page, url=url) for page, url in rows)])
    return out.getvalue()


def _cells(page: ForSale, *, url: str) -> list[str]:
    record, spec = page.record, {one.code: one for one in page.specs}
    serial = spec.get("serial")
    ask = "" if page.ask is None else f"{money.round_money(page.ask):f}"
    return [
        page.stock_number, page.name, str(record.year), record.make, record.model, record.body,
        spec["engine"].value, spec["engine"].rests_on, spec["transmission"].value, spec["transmission"].rests_on,
        record.color,
        serial.value if serial else "", "" if record.mileage is None else str(record.mileage),
        spec["odometer_status"].value, spec["title_brand"].value, ask,
        "held for a buyer" if page.held else "for sale", " ".join(page.faults), url,
    ]  # fmt: skip
