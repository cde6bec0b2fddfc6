"""Test drives: of one vehicle for its page, and those that are out too long."""

import uuid
from dataclasses import dataclass
from datetime import date, datetime

from inventory.errors import NotFound
from inventory.models import Consignment, Inquiry, Lot, TestDrive
from inventory.queries.facts import terms_of, the_lot
from inventory.queries.flags import FlagLine, drives_stopped
from inventory.queries.floor_lines import FloorLine
from inventory.rules.drives import drive_text, is_long, out_for
from inventory.rules.roles import Act, Actor, may
from inventory.rules.states import FOR_SALE


@dataclass(frozen=True, kw_only=True)
class DriveLine:
    """One drive, how long it took or takes, and how far it went."""

    row: TestDrive
    took: str
    is_long: bool
    may_see_copy: bool

    @property
    def drawn(self) -> list[str]:
        """The signature as lines to draw, each as the points it runs through."""
        return [" ".join(f"{x},{y}" for x, y in stroke) for stroke in self.row.strokes]

    @property
    def driven(self) -> int | None:
        return None if self.row.odometer_back is None else self.row.odometer_back - self.row.odometer_out


@dataclass(frozen=True, kw_only=True)
class DrivesPage:
    out: DriveLine | None
    past: tuple[DriveLine, ...]
    stopped_by: tuple[FlagLine, ...]
    allowed: bool
    for_sale: bool
    inquiries: tuple[Inquiry, ...]
    text: str
    lot: Lot

    @property
    def may_go(self) -> bool:
        return self.out is None and not self.stopped_by and self.allowed and self.for_sale


def drives_page(stay: Consignment, *, by: Actor, today: date, now: datetime) -> DrivesPage:
    lot, terms = the_lot(), terms_of(stay)
    lines = [_line(row, by=by, today=today, now=now) for row in _rows_of(stay)]
    return DrivesPage(
        out=next((line for line in lines if line.row.back_at is None), None),
        past=tuple(line for line in lines if line.row.back_at is not None),
        stopped_by=tuple(drives_stopped(stay, today=today)),
        allowed=terms is None or terms.test_drives_allowed,
        for_sale=stay.state in FOR_SALE,
        inquiries=tuple(Inquiry.objects.filter(consignment=stay).select_related("contact").order_by("-on", "-pk")),
        text=drive_text(lot.drive_waiver),
        lot=lot,
    )


def _rows_of(stay: Consignment) -> list[TestDrive]:
    return list(TestDrive.objects.filter(consignment=stay).select_related("contact", "inquiry").order_by("-pk"))


def _line(row: TestDrive, *, by: Actor, today: date, now: datetime) -> DriveLine:
    return DriveLine(
        row=row, took=out_for(row.out_at, until=row.back_at or now),
        is_long=row.back_at is None and is_long(row.out_at, now=now),
        may_see_copy=_is_kept(row, today=today) and may(by, Act.SEE_LICENCE),
    )  # fmt: skip


def _is_kept(row: TestDrive, *, today: date) -> bool:
    return bool(row.licence_copy) and row.copy_kept_until is not None and today <= row.copy_kept_until


def drive_with_copy(code: uuid.UUID, *, stay: Consignment, today: date) -> TestDrive:
    """The drive whose licence was copied. A copy whose days are over is shown to nobody, deleted or not."""
    row = TestDrive.objects.filter(code=code, consignment=stay).first()
    if row is None or not _is_kept(row, today=today):
        raise NotFound("not_found", "There is no copy of a licence here.", field="code", got=str(code))
    return row


def drives_out_long(by: Actor, at: datetime) -> list[FloorLine]:
    """A line for each that should have been back by then."""
    if not may(by, Act.LOG_TEST_DRIVE):
        return []
    out = TestDrive.objects.filter(back_at__isnull=True).select_related("consignment__vehicle").order_by("out_at")
    return [
        FloorLine(
            text=f"Out on a test drive for {out_for(row.out_at, until=at)}", page="test_drives",
            stock_number=str(row.consignment.stock_number), vehicle=str(row.consignment.vehicle), is_urgent=True,
        )
        for row in out
        if is_long(row.out_at, now=at)
    ]  # fmt: skip
