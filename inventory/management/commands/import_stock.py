"""manage.py import_stock FILE: the vehicles that are here now from a spreadsheet."""

from inventory.actions.importing_stock import import_stock
from inventory.management.commands._sheets import SheetCommand
from inventory.sheets import STOCK


class Command(SheetCommand):
    help = (
        "Import the current stock from a CSV or XLSX file: vehicles with their consignors, terms and asks, each once "
        "however often the file is sent. They come in as on lot; the walk, papers and numbers are still to be done."
    )
    name, kind, take = "import_stock", STOCK, import_stock
