"""Phone numbers as the database compares them."""

from django.db.models import F, Func, TextField, Value
from django.db.models.functions import Coalesce, Replace, Right

from inventory.rules.people import BETWEEN_DIGITS, LEAST_DIGITS


def bare_phone(column: str) -> Func:
    """The number without what people write between its digits."""
    bare: Func | F = F(column)
    for sign in BETWEEN_DIGITS:
        bare = Replace(bare, Value(sign), Value(""))
    return Coalesce(bare, Value(""))


def phone_tail(column: str) -> Func:
    """The last digits, by which the same number is known again however it is written."""
    return Right(bare_phone(column), LEAST_DIGITS, output_field=TextField())
