"""One member of staff, and what the staff page lists."""

from dataclasses import dataclass

from inventory.errors import NotFound
from inventory.models import ApiToken, Lot, User
from inventory.queries import people
from inventory.queries.facts import the_lot


@dataclass(frozen=True)
class StaffPage:
    staff: list[User]
    tokens: list[ApiToken]
    settings: Lot


def staff_page() -> StaffPage:
    return StaffPage(list(people.staff()), list(people.tokens()), the_lot())


def member(user_id: int) -> User:
    row = User.objects.filter(pk=user_id).first()
    if row is None:
        raise NotFound("not_found", "There is no such member of staff.", field="user_id", got=user_id)
    return row
