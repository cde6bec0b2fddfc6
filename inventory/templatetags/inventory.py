"""What templates may ask: whether the actor may, and how money and dates are written."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django import template
from django.utils.safestring import SafeString

from inventory.rules import money as rules
from inventory.rules.chances import chance_said
from inventory.rules.listing_open_data import as_script
from inventory.rules.roles import Act, Actor
from inventory.rules.roles import may as rules_may
from inventory.rules.words import GRADE_SHORT

register = template.Library()


@register.filter
def may(actor: Actor | None, act: str) -> bool:
    return actor is not None and rules_may(actor, Act(act))


@register.filter
def money(amount: Decimal | str | None) -> str:
    """An amount to the cent; nothing for what a template does not have."""
    return "" if amount is None or isinstance(amount, str) else rules.show(amount)


@register.filter
def estimate(amount: Decimal | None) -> str:
    return "" if amount is None else rules.show_whole(amount)


@register.filter
def chance(of: float) -> str:
    return chance_said(of)


@register.filter
def grade_short(grade: str) -> str:
    """A grade on a button, in a word or two."""
    return GRADE_SHORT[int(grade)]


@register.filter
def data_block(data: Mapping[str, Any]) -> SafeString:
    """Data inside a script element of its own type: what could close the element is escaped in the data."""
    return SafeString(as_script(data))
