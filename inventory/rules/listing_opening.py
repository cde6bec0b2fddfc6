"""How a description begins: each kind of vehicle is told for what it is."""

from collections.abc import Iterable

from inventory.rules.listing_names import listed
from inventory.rules.listing_record import STRONG, Character, Record
from inventory.rules.words import Basis, Fitting, Grade, Standing

Said = tuple[str, str, str]  # text, basis, source


def sentences(record: Record, *, character: Character) -> Iterable[Said]:
    """The opening. The lot's own classing rests on having seen the vehicle; before that it is a belief."""
    basis = Basis.SEEN if record.inspected else Basis.TOLD
    yield from _first(record, character=character, basis=basis)
    yield from _second(record, character=character)


def _first(record: Record, *, character: Character, basis: str) -> Iterable[Said]:
    name, body = record.name, f", {record.body}" if record.body else ""
    owner = "" if basis == Basis.SEEN else "The owner reports: "
    said = {
        Character.SURVIVOR: f"{owner}{name}{body}: kept rather than redone, as far as the record below shows.",
        Character.RESTORED: f"{owner}{name}{body}, classed by us as restored; below is what is known of the work.",
        Character.CUSTOM: f"{owner}{name}{body}, changed on purpose: judge it by the work, not by what it left behind.",
        Character.REPLICA: f"{owner}A replica or re-bodied vehicle, titled as {name}{body}: it is not what that name "
        "alone would say.",
        Character.PROJECT: f"{owner}An unfinished project: {name}{body}, to be finished by whoever buys it.",
        Character.UNKNOWN: f"{owner}{name}{body}. How it was kept or built is not established.",
    }[character]
    yield said, basis, "vehicle"


def _second(record: Record, *, character: Character) -> Iterable[Said]:
    if character == Character.PROJECT:
        yield from _project(record)
    elif character == Character.CUSTOM:
        cut = sum(change.fitting == Fitting.CUT_OR_WELDED for change in record.changes)
        if record.changes:
            told = _count(len(record.changes), one="change is", many="changes are")
            yield (
                f"{told} recorded, {cut} of them cut or welded.",
                Basis.SEEN, "modifications",
            )  # fmt: skip
    elif character == Character.SURVIVOR:
        yield _count_of_original(record)
    elif character == Character.RESTORED and not any(change.papers for change in record.changes):
        yield (
            "Not established: the extent of the work, since no paper of it was seen.",
            Basis.NOT_ESTABLISHED,
            "modifications",
        )
    elif character == Character.REPLICA:
        yield "Look at its papers and numbers before you decide.", Basis.SEEN, "vehicle"


def _project(record: Record) -> Iterable[Said]:
    missing = [part.code for part in record.parts if part.standing == Standing.MISSING and part.basis in STRONG]
    failed = sum(one.grade == Grade.FAILED for one in record.checks)
    if missing:
        names = listed([code.replace("_", " ") for code in missing])
        yield f"Missing at least, as recorded: {names}.", Basis.SEEN, "components"
    if failed:
        yield (
            f"{_count(failed, one='check', many='checks')} failed or found something missing; read the faults first.",
            Basis.SEEN, "checks",
        )  # fmt: skip
    yield "Do not expect to drive it away.", Basis.SEEN, "vehicle"


def _count_of_original(record: Record) -> Said:
    told = [part for part in record.parts if not part.not_fitted]
    kept = [part for part in told if part.standing == Standing.ORIGINAL and not part.contradicted]
    seen = sum(part.basis in STRONG for part in kept)
    return (
        f"Of {_count(len(told), one='component', many='components')} in the record, {seen} "
        f"{'was' if seen == 1 else 'were'} seen to be as built.",
        Basis.SEEN, "components",
    )  # fmt: skip


def _count(number: int, *, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"
