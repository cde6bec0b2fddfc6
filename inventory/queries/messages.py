"""Mail to consignors: what waits, what failed, how each kind is worded, what a consignor wants."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Case, Count, IntegerField, Value, When

from inventory.errors import NotFound
from inventory.models import Consignor, MailChoice, MailText, OutMessage
from inventory.queries.keyset import Piece, cut
from inventory.rules.mail_texts import HOUSE, Wording, places_of
from inventory.rules.messages import ALWAYS_SENT, SENDABLE_AGAIN, TROUBLE, places_in
from inventory.rules.roles import Act, Actor, may
from inventory.rules.words import MessageKind, MessageStatus

PER_PAGE = 50
SHOWN_TODAY_DAYS = 14  # a mail that failed before that has been seen; the list of mails still shows it


def due(*, at: datetime, most: int, only: int | None = None) -> list[int]:
    """What may be sent now, what waited longest first."""
    rows = OutMessage.objects.filter(status=MessageStatus.QUEUED, next_try_at__lte=at)
    if only is not None:
        rows = rows.filter(pk=only)
    return list(rows.order_by("next_try_at", "pk").values_list("pk", flat=True)[:most])


def latest_text(kind: str) -> MailText | None:
    return MailText.objects.filter(kind=kind).order_by("-number").first()


def wording_of(kind: MessageKind) -> Wording:
    """The lot's own wording, or the house's.

    A wording that names what this kind no longer has (after an update) would stop the deed it tells of: the house's
    own stands in, and the page of the texts says so.
    """
    row = latest_text(kind)
    return HOUSE[kind] if row is None or not fits(row) else Wording(row.subject, row.body, HOUSE[kind].places)


def fits(row: MailText) -> bool:
    named = [*places_in(row.subject), *places_in(row.body)]
    return set(named) <= set(places_of(MessageKind(row.kind)))


@dataclass(frozen=True)
class TextInForce:
    """How one kind is worded now: version 0 is the house's own."""

    kind: MessageKind
    wording: Wording
    number: int = 0
    by: str = ""
    at: datetime | None = None
    fits: bool = True

    @property
    def is_house(self) -> bool:
        own = HOUSE[self.kind]
        return (self.wording.subject, self.wording.body) == (own.subject, own.body)


def text_in_force(kind: MessageKind) -> TextInForce:
    return _in_force(kind, row=latest_text(kind))


def _in_force(kind: MessageKind, *, row: MailText | None) -> TextInForce:
    if row is None:
        return TextInForce(kind, HOUSE[kind])
    wording = Wording(row.subject, row.body, HOUSE[kind].places)
    return TextInForce(kind, wording, row.number, row.by, row.at, fits(row))


def texts() -> list[TextInForce]:
    """Every kind with its wording in force, in one query."""
    latest = {row.kind: row for row in MailText.objects.order_by("number")}
    return [_in_force(kind, row=latest.get(kind)) for kind in MessageKind]


def versions_of(kind: MessageKind) -> list[MailText]:
    return list(MailText.objects.filter(kind=kind).order_by("-number")[:20])


def kind_called(name: str) -> MessageKind:
    if name not in MessageKind.values:
        raise NotFound("not_found", f"There is no mail about “{name}”.", got=name)
    return MessageKind(name)


def turned_off(consignor: Consignor) -> set[str]:
    """Kinds that a consignor does not want."""
    latest = dict(MailChoice.objects.filter(consignor=consignor).order_by("pk").values_list("kind", "wanted"))
    return {kind for kind, wanted in latest.items() if not wanted} - ALWAYS_SENT


@dataclass(frozen=True)
class Choice:
    """One kind of mail as a consignor may choose it."""

    kind: MessageKind
    wanted: bool
    can_be_turned_off: bool

    @property
    def label(self) -> str:
        return self.kind.label


def choices_of(consignor: Consignor) -> list[Choice]:
    """Every kind, and whether this consignor wants it."""
    off = turned_off(consignor)
    return [Choice(kind, kind not in off, kind not in ALWAYS_SENT) for kind in MessageKind]


@dataclass(frozen=True)
class MailRow:
    """One mail as the list shows it."""

    row: OutMessage
    is_trouble: bool
    sendable: bool


@dataclass(frozen=True)
class MailPage:
    piece: Piece[Any]
    rows: list[MailRow]
    failed: int
    unclear: int


def mail_page(*, status: str, place: str) -> MailPage:
    """Mails with the troubled ones first, else newest first."""
    trouble = Case(When(status__in=TROUBLE, then=Value(1)), default=Value(0), output_field=IntegerField())
    # Fetched beside: joined, all mails ever sent would be put together before the first are taken.
    rows = OutMessage.objects.prefetch_related("consignment__vehicle", "consignor").annotate(trouble=trouble)
    if status:
        rows = rows.filter(status=status)
    piece = cut(rows, order=["-trouble", "-pk"], size=PER_PAGE, place=place)
    counted = OutMessage.objects.filter(status__in=TROUBLE).values_list("status").annotate(count=Count("pk"))
    of = dict(counted.order_by())
    return MailPage(
        piece,
        [_shown(row) for row in piece.rows],
        of.get(MessageStatus.FAILED, 0),
        of.get(MessageStatus.UNCLEAR, 0),
    )


def _shown(row: OutMessage) -> MailRow:
    has_address = bool(row.consignor.email)
    return MailRow(row, row.status in TROUBLE, row.status in SENDABLE_AGAIN and has_address)


def unsent(*, by: Actor, today: date) -> int:
    """Mails of late that did not go out, for those who can do something about it."""
    if not may(by, Act.SEE_MESSAGES):
        return 0
    since = today - timedelta(days=SHOWN_TODAY_DAYS)
    return OutMessage.objects.filter(status__in=TROUBLE, made_at__date__gte=since).count()
