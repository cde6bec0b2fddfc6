"""A spreadsheet in (past sales, sales elsewhere, current stock), plain rows and rejects out. No database, no clock."""

from inventory.sheets.cells import raw_text, text_of
from inventory.sheets.columns import CANONICAL, REJECT_REASON
from inventory.sheets.elsewhere import Elsewhere
from inventory.sheets.kinds import ELSEWHERE, PAST_SALES, STOCK, Kind
from inventory.sheets.layouts import Layout
from inventory.sheets.options import DateOrder, Limits, Options, parse_century
from inventory.sheets.preview import Asked, Preview, Question, preview
from inventory.sheets.rejects import save_rejects, write_rejects
from inventory.sheets.rows import Outcome, Reject, Repeat, Row, SheetFile, Warned, read_sales, read_sheet
from inventory.sheets.sale import Fault, Sale, stock_key
from inventory.sheets.stock import InStock
from inventory.sheets.template import stock_template

SalesFile = SheetFile[Sale]

__all__ = [
    "CANONICAL",
    "ELSEWHERE",
    "PAST_SALES",
    "REJECT_REASON",
    "STOCK",
    "Asked",
    "DateOrder",
    "Elsewhere",
    "Fault",
    "InStock",
    "Kind",
    "Layout",
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
    "SheetFile",
    "Warned",
    "parse_century",
    "preview",
    "raw_text",
    "read_sales",
    "read_sheet",
    "save_rejects",
    "stock_key",
    "stock_template",
    "text_of",
    "write_rejects",
]
