"""manage.py import_elsewhere FILE: sales elsewhere from a spreadsheet."""

from django.core.management.base import CommandParser

from inventory.actions.importing_elsewhere import import_elsewhere
from inventory.management.commands._sheets import SheetCommand
from inventory.sheets import ELSEWHERE


class Command(SheetCommand):
    help = (
        "Import sales elsewhere from a CSV or XLSX file, each once however often the file is sent. A sale that was "
        "told before is kept and questioned."
    )
    name, kind, take = "import_elsewhere", ELSEWHERE, import_elsewhere

    def add_arguments(self, parser: CommandParser) -> None:
        super().add_arguments(parser)
        parser.add_argument("--source", default="", help="where these sales were told, for rows that do not say")
