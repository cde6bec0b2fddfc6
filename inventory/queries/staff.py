"""One member of staff, and what the staff page lists."""

from dataclasses import dataclass
from datetime import date, datetime

from django.utils import timezone

from inventory.errors import NotFound
from inventory.models import ApiToken, Lot, User
from inventory.queries import people
from inventory.queries.facts import the_lot
from inventory.queries.sign_in import waits


@dataclass(frozen=True)
class StaffPage:
    staff: list[User]
    tokens: list[ApiToken]
    settings: Lot
    waiting: frozenset[str]  # user names that nobody can sign in with just now
    today: date


def staff_page(at: datetime) -> StaffPage:
    waiting = frozenset(waits(at))
    return StaffPage(list(people.staff()), list(people.tokens()), the_lot(), waiting, timezone.localdate(at))


def member(user_id: int) -> User:
    row = User.objects.filter(pk=user_id).first()
    if row is None:
        raise NotFound("not_found", "There is no such member of staff.", field="user_id", got=user_id)
    return row
