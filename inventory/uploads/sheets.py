"""What may be a spreadsheet."""

from inventory.uploads.refusing import bad_file

SHEET_BYTES = 40 * 2**20
SHEET_SUFFIXES = (".csv", ".txt", ".tsv", ".xlsx")


def check_sheet(name: str, *, size: int) -> None:
    """Only what may be a spreadsheet is kept; its content is judged when it is read."""
    if not name.lower().endswith(SHEET_SUFFIXES):
        raise bad_file(name, "is no CSV or XLSX file by its name", mend="Save the sheet as CSV or XLSX.")
    if size > SHEET_BYTES:
        raise bad_file(name, "is larger than 40 MB", mend="Cut the sheet into several files.")
    if size == 0:
        raise bad_file(name, "is empty", mend="Save the sheet again.")
