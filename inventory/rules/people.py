"""How the same person is known again."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import permutations

LEAST_DIGITS = 7  # fewer digits of a phone number tell nobody apart
MOST_OFFERED = 20  # people that a form offers to choose from
LEAST_SOUGHT = 3  # fewer would find half of the lot
BETWEEN_DIGITS = " -()./+\u00a0\u2013"  # what people write between the digits of a phone number


def digits(phone: str) -> str:
    """The digits of a phone number, whatever stands between them; "" where they are too few to know somebody by."""
    found = "".join(sign for sign in phone if sign.isascii() and sign.isdigit())
    return found if len(found) >= LEAST_DIGITS else ""


def same_phone(one: str, other: str) -> bool:
    """Whether two numbers end alike: one may be written with the country's code, the other without."""
    first, second = digits(one), digits(other)
    return bool(first and second) and (first.endswith(second) or second.endswith(first))


def sought_digits(text: str) -> str:
    """The digits of what may be a part of a phone number; "" for whatever holds a letter, or too few of them."""
    bare = "".join(sign for sign in text if sign not in BETWEEN_DIGITS)
    return bare if len(bare) >= LEAST_SOUGHT and bare.isascii() and bare.isdigit() else ""


@dataclass(frozen=True)
class Known:
    """What the same person may be known by."""

    pk: int
    name: str
    email: str = ""
    phone: str = ""


@dataclass(frozen=True)
class Double:
    """Somebody who may be the same person, and what is the same."""

    pk: int
    name: str
    why: str


def alike(one: Known, other: Known) -> str:
    """What is the same about two people, in words; "" where nothing is."""
    same = []
    if one.email and one.email.casefold() == other.email.casefold():
        same.append("e-mail")
    if same_phone(one.phone, other.phone):
        same.append("phone")
    if tidy(one.name) == tidy(other.name):
        same.append("name")
    *first, last = same or [""]
    return f"same {', '.join(first)} and {last}" if first else f"same {last}" if last else ""


def tidy(name: str) -> str:
    return " ".join(name.split()).casefold()


def likely_doubles(people: Iterable[Known]) -> dict[int, tuple[Double, ...]]:
    """For each who has one: the others that may be the same person. Only people with a key in common are compared."""
    rows = {row.pk: row for row in people}
    by_key: defaultdict[str, list[Known]] = defaultdict(list)
    for row in rows.values():
        number = digits(row.phone)
        keys = (f"name {tidy(row.name)}", f"mail {row.email.casefold()}" if row.email else "")
        for key in (*keys, f"phone {number[-LEAST_DIGITS:]}" if number else ""):
            if key:
                by_key[key].append(row)
    found: defaultdict[int, dict[int, Double]] = defaultdict(dict)
    for group in by_key.values():
        for one, other in permutations(group, 2):
            if why := alike(one, other):
                found[one.pk][other.pk] = Double(other.pk, other.name, why)
    return {pk: tuple(others[key] for key in sorted(others)) for pk, others in found.items()}
