"""manage.py import_sales FILE: past sales from a spreadsheet."""

from inventory.actions.importing import import_sales
from inventory.management.commands._sheets import SheetCommand
from inventory.sheets import PAST_SALES


class Command(SheetCommand):
    help = (
        "Import past sales from a CSV or XLSX file. Columns are matched by their usual names; bad rows are "
        "rejected one by one with the reason, good rows are imported once however often the file is sent."
    )
    name, kind, take = "import_sales", PAST_SALES, import_sales
