"""How the same person is known again."""

LEAST_DIGITS = 7  # fewer digits of a phone number tell nobody apart
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
