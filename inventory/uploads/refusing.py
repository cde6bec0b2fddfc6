"""The one sentence that says no to a file: its name, what is wrong with it, and the mend."""

from inventory.errors import Refused


def bad_file(name: str, what: str, *, mend: str, code: str = "bad_file") -> Refused:
    return Refused(code, f"The file {name} {what}.", field="file", got=name, mend=mend)
