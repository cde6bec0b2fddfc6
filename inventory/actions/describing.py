"""Descriptions are written, edited and published: each time a new version, and none that claims more than is known."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import add, locked, trade_day
from inventory.errors import Refused, TooLate
from inventory.models import Consignment, Listing
from inventory.queries.listing import draft_of, latest_version, record_of
from inventory.rules.claims import objections_in
from inventory.rules.listing import SECTIONS
from inventory.rules.listing_edit import MOST_LINE, edited, read, stored, with_sections
from inventory.rules.listing_record import Section
from inventory.rules.roles import Act, Actor, require
from inventory.rules.states import State
from inventory.rules.words import ListingTone

OFFERED = (State.LISTED, State.DEPOSIT)


@transaction.atomic
def write_listing(
    consignment_id: int, *, tone: str, lines: Mapping[str, Sequence[str]] | None = None, after: int = 0,
    by: Actor, at: datetime,
) -> Listing:  # fmt: skip
    """Keep a new version: as the record writes it, or with the lines that somebody typed, one sentence a line.

    `after` is the number of the version that the lines were typed over. Questioned sentences may be kept; they may
    not be published.
    """
    require(by, Act.WRITE_LISTING)
    stay = locked(consignment_id)
    latest = _latest(stay, after=after)
    if tone not in ListingTone.values:
        known = ", ".join(ListingTone.values)
        raise Refused("unknown_tone", f"“{tone}” is no tone.", field="tone", got=tone, mend=f"Use {known}.")
    record = record_of(stay, today=trade_day(at))
    draft = draft_of(record, tone=tone)
    sections = draft if lines is None else _typed(lines, latest=latest, draft=draft)
    row = _added(stay, tone=tone, sections=sections, number=_next(latest), by=by, at=at, published=False,
                 objections=objections_in(sections, draft=draft, record=record))  # fmt: skip
    logbook.record(
        "listing.written", row, by=by, at=at, consignment=stay, number=row.number, questioned=len(row.objections)
    )
    return row


def _latest(stay: Consignment, *, after: int) -> Listing | None:
    """The version that counts; refused when somebody wrote another one meanwhile."""
    latest = latest_version(stay)
    if latest is not None and latest.number != after:
        raise TooLate(
            "stale_version", f"{latest.by} kept version {latest.number} of this description since you looked.",
            field="after", got=after, mend="Look at it, then repeat what still applies.",
        )  # fmt: skip
    return latest


def _next(latest: Listing | None) -> int:
    return 1 if latest is None else latest.number + 1


def _typed(
    lines: Mapping[str, Sequence[str]], *, latest: Listing | None, draft: tuple[Section, ...]
) -> tuple[Section, ...]:
    if unknown := sorted(set(lines) - set(SECTIONS)):
        raise Refused(
            "unknown_section", f"There is no section “{unknown[0]}”.", field="sections", got=unknown[0],
            mend=f"Use {', '.join(SECTIONS)}.",
        )  # fmt: skip
    long = next((line for typed in lines.values() for line in typed if len(line) > MOST_LINE), None)
    if long is not None:
        raise Refused(
            "line_too_long", f"One sentence has {len(long)} characters; a line holds {MOST_LINE}.", field="sections",
            got=len(long), mend="Put each sentence on a line of its own.",
        )  # fmt: skip
    before = read(latest.sections) if latest is not None else draft
    sections = edited(with_sections(before, draft=draft, titles=SECTIONS, wanted=lines), lines=lines)
    if not sections:
        raise Refused("nothing_said", "The description is empty.", field="sections", mend="Keep at least a sentence.")
    return sections


@transaction.atomic
def publish(consignment_id: int, *, after: int, by: Actor, at: datetime) -> Listing:
    """Show the latest version to buyers. It is held against the record as it stands now; a question stops it."""
    require(by, Act.WRITE_LISTING)
    stay = locked(consignment_id)
    latest = _latest(stay, after=after)
    if stay.state not in OFFERED:
        raise Refused(
            "not_listed", f"{stay.stock_number} is {stay.get_state_display()}: it is not for sale.", field="state",
            got=stay.state, mend="A description is published while the vehicle is listed or under deposit.",
        )  # fmt: skip
    if latest is None:
        raise Refused("no_listing", "There is no description yet.", field="after", mend="Keep a version first.")
    if latest.published:
        raise Refused(
            "published_already", f"Version {latest.number} is published already.", field="after", got=latest.number,
            mend="Change something first.",
        )  # fmt: skip
    sections, record = read(latest.sections), record_of(stay, today=trade_day(at))
    _refuse_questioned(objections_in(sections, draft=draft_of(record, tone=latest.tone), record=record))
    row = _added(stay, tone=latest.tone, sections=sections, number=_next(latest), by=by, at=at, published=True,
                 objections=[])  # fmt: skip
    logbook.record("listing.published", row, by=by, at=at, consignment=stay, number=row.number)
    return row


def _refuse_questioned(objections: Sequence[Mapping[str, str]]) -> None:
    if objections:
        raise Refused(
            "questioned", " ".join(one["message"] for one in objections), field="objections", got=len(objections),
            mend="Mend these sentences or take them out, then publish.",
        )  # fmt: skip


def _added(
    stay: Consignment, *, tone: str, sections: Sequence[Section], number: int, published: bool,
    objections: Sequence[Mapping[str, str]], by: Actor, at: datetime,
) -> Listing:  # fmt: skip
    return add(
        Listing(
            consignment=stay, number=number, tone=tone, sections=stored(sections), published=published,
            objections=list(objections), by=by.name, at=at,
        )
    )  # fmt: skip
