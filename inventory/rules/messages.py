"""Mail to consignors: which entry of the log makes which mail, how its text is filled, when it is tried again."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal

from inventory.errors import Refused
from inventory.rules import money
from inventory.rules.states import FOR_SALE, State
from inventory.rules.words import DealEnd, MessageKind, MessageStatus

LINK_MARK = "[[private link]]"  # stands in the stored text; the address is put in while it is sent
NO_LINK = "the private link that the lot gave you"
SUBJECT_LENGTH = 200

TROUBLE = (MessageStatus.FAILED, MessageStatus.UNCLEAR)
SENDABLE_AGAIN = (MessageStatus.FAILED, MessageStatus.UNCLEAR, MessageStatus.NO_ADDRESS)
ALWAYS_SENT = frozenset({MessageKind.CONSENT})  # a question that needs an answer cannot be turned off

ENDING_DAYS = (14, 3)  # before the end of an agreement; common practice, no source
UNCLEAR_AFTER = timedelta(minutes=15)  # longer than any one sending can take: its worker is gone

# The first waits are short, since most outages are. RFC 5321, 4.5.4.1: give up after four to five days at the earliest.
FIRST_WAITS = (timedelta(minutes=1), timedelta(minutes=5), timedelta(minutes=15), timedelta(hours=1))
LATER_WAIT = timedelta(hours=1)
MOST_ATTEMPTS = 100


@dataclass(frozen=True, kw_only=True)
class Event:
    """An entry of the log that is told to the consignor, if it says this and the stay now stands in one of these."""

    action: str
    kind: MessageKind
    says: Mapping[str, str] = field(default_factory=dict)
    states: tuple[State, ...] = tuple(State)


EVENTS: tuple[Event, ...] = (
    Event(action="consignment.moved", kind=MessageKind.ARRIVED, says={"now": State.ON_LOT.label}),
    Event(action="consignment.moved", kind=MessageKind.INSPECTED, says={"now": State.INSPECTED.label}),
    Event(
        action="consignment.moved", kind=MessageKind.LISTED,
        says={"was": State.INSPECTED.label, "now": State.LISTED.label},
    ),
    Event(action="ask.set", kind=MessageKind.PRICE_CHANGE, states=FOR_SALE),
    Event(action="offer.logged", kind=MessageKind.OFFER),
    Event(action="deal.opened", kind=MessageKind.DEPOSIT),
    Event(  # a deal that ends because the vehicle is withdrawn is no news: the consignor took it back
        action="deal.ended", kind=MessageKind.FELL_THROUGH, says={"how": DealEnd.FALLEN_THROUGH.label}, states=FOR_SALE,
    ),
    Event(action="outcome.sold", kind=MessageKind.SOLD),
    Event(action="settlement.approved", kind=MessageKind.SETTLED),
    Event(action="settlement.paid", kind=MessageKind.PAID),
    Event(action="consent.asked", kind=MessageKind.CONSENT),
    Event(action="question.answered", kind=MessageKind.ANSWER),
)  # fmt: skip
TOLD_ACTIONS = frozenset(event.action for event in EVENTS)


def kind_of(action: str, *, data: Mapping[str, object], state: str) -> MessageKind | None:
    """The mail that an entry makes of a stay in this state, if any."""
    for event in EVENTS:
        said = all(data.get(name) == value for name, value in event.says.items())
        if event.action == action and said and state in event.states:
            return event.kind
    return None


_PLACE = re.compile(r"\{([^{}]*)\}")


def places_in(text: str) -> list[str]:
    """What a text names in braces."""
    return _PLACE.findall(text)


def check_places(text: str, *, allowed: Iterable[str], what: str) -> str:
    """Refuse a text that names what this kind of mail does not have."""
    known = list(allowed)
    for name in places_in(text):
        if name not in known:
            raise Refused(
                "place_unknown", f"“{{{name}}}” is nothing that this mail can say.", field=what, got=name,
                mend=f"It has {', '.join(f'{{{one}}}' for one in known)}.",
            )  # fmt: skip
    return text


def fill(text: str, *, values: Mapping[str, str]) -> str:
    """The text with each place filled, once: what is filled in is never read as a place itself."""
    return _PLACE.sub(lambda found: values[found[1]], text)


def subject_of(text: str, *, values: Mapping[str, str]) -> str:
    """One line, whatever was filled in; what does not fit is seen to be cut."""
    line = " ".join(fill(text, values=values).split())
    return line if len(line) <= SUBJECT_LENGTH else f"{line[: SUBJECT_LENGTH - 1]}…"


def paragraphs(text: str) -> list[list[list[str]]]:
    """Paragraphs of lines of parts; a part is plain text or `LINK_MARK`."""
    blocks = re.split(r"\n\s*\n", text.replace("\r\n", "\n").strip())
    return [[_parts(line) for line in block.splitlines()] for block in blocks]


def _parts(line: str) -> list[str]:
    return [part for part in re.split(f"({re.escape(LINK_MARK)})", line) if part]


def with_link(text: str, *, address: str) -> str:
    """The text as it is sent; without an address it says which link is meant."""
    return text.replace(LINK_MARK, address or NO_LINK)


def next_try(attempts: int, *, at: datetime) -> datetime | None:
    """When a mail is tried again that failed so many times; None: it is given up.

    >>> at = datetime(2026, 3, 16, 12)
    >>> str(next_try(1, at=at)), str(next_try(30, at=at)), next_try(100, at=at)
    ('2026-03-16 12:01:00', '2026-03-16 13:00:00', None)
    """
    if attempts >= MOST_ATTEMPTS:
        return None
    return at + (FIRST_WAITS[attempts - 1] if attempts <= len(FIRST_WAITS) else LATER_WAIT)


def mark_due(ends_on: date, *, today: date, agreed_on: date) -> int | None:
    """Which reminder of an agreement's end is due. One agreed later than the day of a mark is not reminded of by it."""
    left = (ends_on - today).days
    passed = [days for days in ENDING_DAYS if 0 <= left <= days and agreed_on < ends_on - timedelta(days=days)]
    return min(passed, default=None)


def day(on: date) -> str:
    """
    >>> day(date(2026, 3, 6))
    'March 6, 2026'
    """
    return f"{on:%B} {on.day}, {on.year}"


def week_of(on: date) -> str:
    year, week, _ = on.isocalendar()
    return f"{year}-W{week:02d}"


def counted(number: int, *, one: str, many: str = "") -> str:
    """
    >>> counted(1, one="inquiry", many="inquiries"), counted(0, one="showing"), counted(2, one="showing")
    ('1 inquiry', 'no showings', '2 showings')
    """
    if number == 1:
        return f"1 {one}"
    return f"{number or 'no'} {many or f'{one}s'}"


def offers_said(amounts: list[Decimal]) -> str:
    if not amounts:
        return "no offers"
    return f"{counted(len(amounts), one='offer')}: {', '.join(money.show(amount) for amount in amounts)}"


def open_said(*, to_answer: int, asked: int) -> str:
    """What waits for the consignor, and what waits for the lot."""
    waiting = []
    if to_answer:
        waiting.append(f"{counted(to_answer, one='question')} from us for you to answer")
    if asked:
        waiting.append(f"{counted(asked, one='question')} from you for us to answer")
    return " and ".join(waiting) or "nothing"
