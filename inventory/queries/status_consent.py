"""What a consignor was asked and what they asked, as they see it themselves: never who of the lot it was."""

import uuid
from dataclasses import dataclass
from datetime import date, datetime

from inventory.errors import NotFound
from inventory.models import Consignment
from inventory.queries import consents, questions_asked
from inventory.queries.consents import QuestionRow
from inventory.rules.status_words import TITLE, effect_told
from inventory.rules.words import ConsentKind, ConsentResult


@dataclass(frozen=True, kw_only=True)
class AskedSeen:
    """One question to the consignor. While `result` is empty it waits."""

    code: uuid.UUID
    title: str
    text: str
    asked_at: datetime
    waited: str
    is_urgent: bool
    result: str = ""
    given_by: str = ""
    how: str = ""
    answered_at: datetime | None = None
    effect: str = ""

    @property
    def is_open(self) -> bool:
        return not self.result


@dataclass(frozen=True)
class QuestionSeen:
    asked_at: datetime
    text: str
    answer: str
    answered_at: datetime | None


def asked_of(stay: Consignment, *, today: date) -> tuple[AskedSeen, ...]:
    """Every question to the consignor, the latest first."""
    return tuple(_seen(row) for row in consents.question_rows(stay, today=today))


def asked(code: uuid.UUID, *, stay: Consignment, today: date) -> AskedSeen:
    found = next((row for row in asked_of(stay, today=today) if row.code == code), None)
    if found is None:
        raise NotFound("not_found", "There is no such question.", got=str(code))
    return found


def _seen(shown: QuestionRow) -> AskedSeen:
    row, kind = shown.row, ConsentKind(shown.row.kind)
    waits = AskedSeen(
        code=row.code, title=TITLE[kind], text=row.text, asked_at=row.at, waited=shown.waited,
        is_urgent=shown.is_urgent,
    )  # fmt: skip
    if shown.is_open:
        return waits
    result = ConsentResult(row.answer.result)
    by_lot = result is ConsentResult.TAKEN_BACK
    return AskedSeen(
        **{
            **vars(waits), "result": result.label, "answered_at": row.answer.at,
            "given_by": "" if by_lot else row.answer.given_by, "how": "" if by_lot else row.answer.how,
            "effect": effect_told(kind, result=result),
        }
    )  # fmt: skip


def questions_seen(stay: Consignment) -> tuple[QuestionSeen, ...]:
    """What the consignor asked, the latest first."""
    return tuple(
        QuestionSeen(row.at, row.text, row.answer.text, row.answer.at)
        if hasattr(row, "answer")
        else QuestionSeen(row.at, row.text, "", None)
        for row in questions_asked.questions_of(stay)
    )
