"""The sheet of current stock as it may be filled in: all headings, and two invented rows."""

import io

from inventory.sheets.layouts import STOCK_LAYOUT
from inventory.sheets.safe_csv import write_rows

_ROWS: tuple[dict[str, str], ...] = (
    {
        "stock_number": "A-101", "vin": "8A17J104221", "year": "1968", "make": "Merrow", "model": "Alder",
        "body": "two-door hardtop", "transmission": "automatic", "build_class": "restored", "color": "green",
        "mileage": "61240", "odometer_status": "not stated", "title_brand": "clean",
        "consignor_name": "Ada Fenwick (invented)", "consignor_email": "ada@example.org",
        "consignor_phone": "555-010-4477", "arrived_on": "2026-03-02", "place": "Row 1, third from the gate",
        "key_tag": "17", "commission_rate": "9", "commission_minimum": "1500", "floor": "38000",
        "agreement_starts_on": "2026-03-02", "agreement_ends_on": "2026-09-02", "signed_by": "Ada Fenwick",
        "signed_on": "2026-03-02", "ask": "48500", "ask_since": "2026-03-09",
    },
    {
        "stock_number": "A-102", "year": "1971", "make": "Tarn", "model": "Ghyll", "body": "two-door",
        "mileage": "98,000 km", "consignor_name": "Bo Larkin (invented)", "consignor_phone": "555-010-2214",
        "arrived_on": "2026-05-18", "commission_flat": "1800", "agreement_starts_on": "2026-05-18",
        "agreement_ends_on": "2026-11-18", "note": "papers are on their way",
    },
)  # fmt: skip


def stock_template() -> str:
    """CSV with a mark at its start, so that spreadsheet programs read it as UTF-8."""
    out = io.StringIO()
    head = [column.replace("_", " ") for column in STOCK_LAYOUT.columns]
    write_rows(out, rows=[head, *([row.get(column, "") for column in STOCK_LAYOUT.columns] for row in _ROWS)])
    return "\ufeff" + out.getvalue()
