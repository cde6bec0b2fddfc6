"""Two rows that are one person: when they may become one, and which data goes on."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from inventory.errors import Refused

NOTE_LONGEST = 1000


@dataclass(frozen=True)
class Party:
    """One of the two, as far as merging asks."""

    name: str
    is_lot: bool = False
    is_erased: bool = False
    goes_on_as: str = ""  # the name of the one it was merged into


@dataclass(frozen=True)
class Difference:
    """One column that both fill in differently."""

    field: str
    label: str
    kept: str
    other: str


def refuse_merge(double: Party, *, into: Party, is_same: bool) -> None:
    """Say why these two may not become one, if they may not."""
    if is_same:
        raise _refused("merge_itself", f"{into.name} is no double of themselves.", mend="Choose somebody else.")
    for party in (double, into):
        if party.is_lot:
            raise _refused("merge_lot", f"{party.name} is the lot itself.", mend="Only people are merged.")
        if party.is_erased:
            raise _refused("merge_erased", f"{party.name} holds no data any more.", mend="Leave it as it is.")
        if party.goes_on_as:
            raise _refused(
                "merged_already", f"{party.name} was merged into {party.goes_on_as} already.",
                mend=f"Choose {party.goes_on_as}.",
            )  # fmt: skip


def _refused(code: str, message: str, *, mend: str) -> Refused:
    return Refused(code, message, field="double", mend=mend)


def differences(
    kept: Mapping[str, str], *, other: Mapping[str, str], labels: Mapping[str, str]
) -> tuple[Difference, ...]:
    """Where both say something, and not the same."""
    return tuple(
        Difference(name, label, kept[name].strip(), other[name].strip())
        for name, label in labels.items()
        if kept[name].strip() and other[name].strip() and kept[name].strip() != other[name].strip()
    )


def joined(
    kept: Mapping[str, str], *, other: Mapping[str, str], names: Sequence[str], take: Sequence[str]
) -> dict[str, str]:
    """What the one that goes on says afterwards: its own, the other's where it had nothing or where it was chosen.

    Notes are put under each other: neither is lost.
    """
    said = {name: other[name] if name in take or not kept[name].strip() else kept[name] for name in names}
    notes = dict.fromkeys(text for text in (kept["note"].strip(), other["note"].strip()) if text)
    said["note"] = "\n".join(notes)
    if len(said["note"]) > NOTE_LONGEST:
        raise Refused(
            "notes_too_long", f"Both notes together have {len(said['note'])} characters.", field="double",
            mend=f"Shorten one of them first: {NOTE_LONGEST} fit.",
        )  # fmt: skip
    return said
