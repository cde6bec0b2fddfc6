"""Phone numbers as the database compares them."""

from django.db.models import F, Func, Value
from django.db.models.functions import Coalesce, Replace

from inventory.rules.people import BETWEEN_DIGITS


def bare_phone(column: str) -> Func:
    """The number without what people write between its digits."""
    bare: Func | F = F(column)
    for sign in BETWEEN_DIGITS:
        bare = Replace(bare, Value(sign), Value(""))
    return Coalesce(bare, Value(""))
