"""The lot's own decoder table is kept: entries added, corrected, retired. No maker's table comes with the house."""

import uuid
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import add, again
from inventory.errors import NotFound, Refused, TooLate
from inventory.models import DecoderEntry
from inventory.rules.components import CODED_TITLES
from inventory.rules.date_codes import check_span
from inventory.rules.decoding import key_of
from inventory.rules.roles import Act, Actor, require
from inventory.rules.words import CodeMatch


@dataclass(frozen=True, kw_only=True)
class Meaning:
    """What one code means on one component of one make in some model years, and who says so."""

    component: str
    make: str
    from_year: int
    to_year: int
    written: str
    meaning: str
    source: str
    match: str = CodeMatch.EXACT
    earliest_on: date | None = None
    latest_on: date | None = None
    client_key: uuid.UUID | None = None


@transaction.atomic
def add_meaning(said: Meaning, *, by: Actor, at: datetime) -> DecoderEntry:
    require(by, Act.RECORD_FACTS)
    if (known := again(DecoderEntry, client_key=said.client_key)) is not None:
        return known
    return _write("decoder.added", _row(said, by=by, at=at), by=by, at=at)


@transaction.atomic
def correct_meaning(entry_id: int, *, said: Meaning, by: Actor, at: datetime) -> DecoderEntry:
    """Write a new entry in the place of one; the old one stays to be read."""
    require(by, Act.RECORD_FACTS)
    if (known := again(DecoderEntry, client_key=said.client_key)) is not None:
        return known
    row = _row(said, by=by, at=at)
    row.corrects = _locked(entry_id)
    return _write("decoder.corrected", row, by=by, at=at)


@transaction.atomic
def retire_meaning(entry_id: int, *, by: Actor, at: datetime) -> DecoderEntry:
    """Take an entry out of use, by a last one that says so."""
    require(by, Act.RECORD_FACTS)
    old = _locked(entry_id)
    row = DecoderEntry(
        **{name: getattr(old, name) for name in _COPIED}, corrects=old, retired=True, by=by.name, at=at,
    )  # fmt: skip
    return _write("decoder.retired", row, by=by, at=at)


_COPIED = (
    "component", "make", "from_year", "to_year", "written", "written_key", "match", "meaning", "earliest_on",
    "latest_on", "source",
)  # fmt: skip


def _locked(entry_id: int) -> DecoderEntry:
    """An entry that still counts, locked: two corrections of one would both count."""
    row = DecoderEntry.objects.select_for_update(of=("self",)).filter(pk=entry_id).first()
    if row is None:
        raise NotFound("not_found", "There is no such entry.", got=entry_id)
    after = DecoderEntry.objects.filter(corrects=row).first()
    if row.retired or after is not None:
        raise TooLate(
            "entry_is_past",
            f"{(after or row).by} corrected or retired this entry on {(after or row).at:%Y-%m-%d}.",
            mend="Look at the table again.",
        )
    return row


def _row(said: Meaning, *, by: Actor, at: datetime) -> DecoderEntry:
    if said.component not in CODED_TITLES:
        raise Refused(
            "no_such_component", f"There is no component {said.component}.", field="component", got=said.component,
            mend=f"Use one of {', '.join(CODED_TITLES)}.",
        )  # fmt: skip
    if not key_of(said.written):
        raise Refused(
            "no_code", f"“{said.written}” holds no letter and no digit.", field="written", got=said.written,
            mend="Write the code as it stands on the part.",
        )  # fmt: skip
    if said.from_year > said.to_year:
        raise Refused(
            "years_upside_down", f"{said.from_year} is after {said.to_year}.", field="to_year", got=said.to_year,
            mend="Give the earlier model year first.",
        )  # fmt: skip
    check_span(said.earliest_on, said.latest_on)
    return DecoderEntry(
        component=said.component, make=said.make.strip(), from_year=said.from_year, to_year=said.to_year,
        written=said.written.strip(), written_key=key_of(said.written), match=said.match,
        meaning=said.meaning.strip(), earliest_on=said.earliest_on, latest_on=said.latest_on,
        source=said.source.strip(), client_key=said.client_key, by=by.name, at=at,
    )  # fmt: skip


def _write(action: str, row: DecoderEntry, *, by: Actor, at: datetime) -> DecoderEntry:
    add(row)
    logbook.record(
        action, row, by=by, at=at, make=row.make, component=CODED_TITLES[row.component].lower(), written=row.written,
        meaning=row.meaning,
    )  # fmt: skip
    return row
