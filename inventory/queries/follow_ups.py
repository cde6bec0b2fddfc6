"""Inquiries to follow up: what is due, what comes later, and the latest of all."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Case, DateField, Exists, F, OuterRef, Q, QuerySet, Subquery, When

from inventory.errors import NotFound
from inventory.models import FollowUp, Inquiry
from inventory.queries.floor_lines import FloorLine
from inventory.queries.keyset import Piece, cut
from inventory.rules.following import due_told, waiting_told
from inventory.rules.roles import Act, Actor, may
from inventory.rules.states import FOR_SALE

PER_PAGE = 30


@dataclass(frozen=True, kw_only=True)
class InquiryLine:
    """One inquiry as the list shows it, with the day it is due and how far that is."""

    row: Inquiry
    due_on: date | None
    due: str
    is_late: bool
    last_said: str


@dataclass(frozen=True, kw_only=True)
class FollowUpPage:
    due: tuple[InquiryLine, ...]
    later: tuple[InquiryLine, ...]
    latest: tuple[InquiryLine, ...]
    piece: Piece[Inquiry]


def _with_due() -> QuerySet[Any]:
    """Each with the day it waits for: what the last follow-up says, before there is one what was said at first."""
    last = FollowUp.objects.filter(inquiry=OuterRef("pk")).order_by("-pk")
    followed = Exists(FollowUp.objects.filter(inquiry=OuterRef("pk")))
    rows: QuerySet[Any] = Inquiry.objects.select_related("consignment__vehicle", "contact").annotate(
        last_said=Subquery(last.values("said")[:1]),
        due_on=Case(
            When(followed, then=Subquery(last.values("next_on")[:1])),
            default=F("follow_up_on"),
            output_field=DateField(),
        ),
    )
    return rows


def _waiting() -> QuerySet[Any]:
    """Those that wait for a day; most inquiries never had one, and an index passes them over."""
    told = Q(follow_up_on__isnull=False) | Q(pk__in=FollowUp.objects.values("inquiry"))
    return _with_due().filter(told, due_on__isnull=False)


def follow_up_page(*, place: str, today: date) -> FollowUpPage:
    waiting = [_line(row, today=today) for row in _waiting().order_by("due_on", "pk")]
    piece = cut(_with_due(), order=["-on", "-pk"], size=PER_PAGE, place=place)
    return FollowUpPage(
        due=tuple(line for line in waiting if line.due_on is not None and line.due_on <= today),
        later=tuple(line for line in waiting if line.due_on is not None and line.due_on > today),
        latest=tuple(_line(row, today=today) for row in piece.rows),
        piece=piece,
    )


def _line(row: Any, *, today: date) -> InquiryLine:
    due_on: date | None = row.due_on
    return InquiryLine(
        row=row, due_on=due_on, due=due_told(due_on, today=today) if due_on else "",
        is_late=due_on is not None and due_on < today,
        last_said=row.last_said or "",
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class InquirySeen:
    """One inquiry with all that came of it, the latest first."""

    line: InquiryLine
    follow_ups: tuple[FollowUp, ...]

    @property
    def may_be_driven(self) -> bool:
        return self.line.row.consignment.state in FOR_SALE


def inquiry_seen(inquiry_id: int, *, today: date) -> InquirySeen:
    row = _with_due().filter(pk=inquiry_id).first()
    if row is None:
        raise NotFound("not_found", "There is no such inquiry.", field="inquiry", got=inquiry_id)
    return InquirySeen(
        line=_line(row, today=today), follow_ups=tuple(FollowUp.objects.filter(inquiry=row).order_by("-pk"))
    )


def follow_ups_today(by: Actor, today: date) -> list[FloorLine]:
    """One line for all that are due, urgent where one was due before today."""
    if not may(by, Act.LOG_INQUIRY):
        return []
    due = list(_waiting().filter(due_on__lte=today).values_list("due_on", flat=True))
    if not due:
        return []
    return [FloorLine(text=waiting_told(len(due)), page="follow_ups", is_urgent=min(due) < today)]
