"""A spreadsheet of past sales in, plain rows and rejects out. No database and no clock."""

from inventory.sheets.cells import raw_text, text_of
from inventory.sheets.columns import CANONICAL, REJECT_REASON
from inventory.sheets.options import DateOrder, Limits, Options, parse_century
from inventory.sheets.preview import Asked, Preview, Question, preview
from inventory.sheets.rejects import save_rejects, write_rejects
from inventory.sheets.rows import Outcome, Reject, Repeat, Row, SalesFile, Warned, read_sales
from inventory.sheets.sale import Fault, Sale, stock_key

__all__ = [
    "CANONICAL",
    "REJECT_REASON",
    "Asked",
    "DateOrder",
    "Fault",
    "Limits",
    "Options",
    "Outcome",
    "Preview",
    "Question",
    "Reject",
    "Repeat",
    "Row",
    "Sale",
    "SalesFile",
    "Warned",
    "parse_century",
    "preview",
    "raw_text",
    "read_sales",
    "save_rejects",
    "stock_key",
    "text_of",
    "write_rejects",
]
