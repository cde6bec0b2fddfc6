"""What somebody who typed the right password still owes before anything opens, and how sessions are told apart."""

import base64
import re
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any
from urllib.parse import quote, urlencode

from django.db.models import TextChoices

from inventory.rules.roles import Role

SESSION_LIFE = timedelta(days=14)  # from the sign-in on, however much it is used
SEEN_EVERY = 5 * 60  # seconds: what was seen more lately is not written again
RECHECK_AFTER = 30 * 60  # seconds since the password or a code was last typed; common practice, no source
STAMP = "staff"  # under which a session remembers when it was seen and when the password was last typed
RECOVERY_CODES = 8
RECOVERY_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # none that are taken for each other
RECOVERY_LENGTH = 10


class FactorRule(TextChoices):
    """Of whom a code is asked besides the password. Everybody may switch it on."""

    NOBODY = "nobody", "nobody"
    OWNERS = "owners", "owners"
    ALL = "all", "all staff"


class Owed(TextChoices):
    CODE = "code", "a code from the authenticator app"
    SET_UP = "set_up", "setting up the second factor"


def owed(*, has_factor: bool, is_verified: bool, role: str, rule: str) -> Owed | None:
    """What is missing until pages and API open; None: nothing."""
    if has_factor:
        return None if is_verified else Owed.CODE
    asked_of = {FactorRule.OWNERS: {Role.OWNER.value}, FactorRule.ALL: {known.value for known in Role}}
    return Owed.SET_UP if role in asked_of.get(FactorRule(rule), set()) else None


def is_fresh(stamp: Mapping[str, Any], *, now: datetime) -> bool:
    """Whether the password or a code was typed in this session so lately that money may be moved without it."""
    return now.timestamp() - float(stamp.get("checked", 0)) < RECHECK_AFTER


def key_uri(username: str, *, issuer: str, key: bytes) -> str:
    """What an authenticator app reads from the QR code: the usual key URI, SHA-1, six digits, 30 seconds."""
    name = quote(f"{issuer.replace(':', ' ')}:{username}", safe="")
    secret = base64.b32encode(key).decode().rstrip("=")
    return f"otpauth://totp/{name}?" + urlencode(
        {"secret": secret, "issuer": issuer.replace(":", " "), "algorithm": "SHA1", "digits": 6, "period": 30},
        quote_via=quote,
    )


def typed_secret(key: bytes) -> str:
    """The same secret to be typed by hand, in groups of four."""
    text = base64.b32encode(key).decode().rstrip("=")
    return " ".join(text[start : start + 4] for start in range(0, len(text), 4))


def plain_code(typed: str) -> str:
    """A code without the blanks and dashes that people read it with."""
    return re.sub(r"[\s-]", "", typed).lower()


def is_from_app(code: str) -> bool:
    return len(code) == 6 and code.isascii() and code.isdigit()


def shown_code(code: str) -> str:
    """A recovery code as it is shown: two halves with a dash."""
    half = len(code) // 2
    return f"{code[:half]}-{code[half:]}"


_BROWSERS = (  # the first that is named counts: the later ones are named by nearly all
    (r"Edg(e|A|iOS)?/", "Edge"), (r"OPR/|Opera", "Opera"), (r"SamsungBrowser/", "Samsung browser"),
    (r"Firefox/|FxiOS/", "Firefox"), (r"Chrome/|CriOS/|Chromium/", "Chrome"), (r"Safari/", "Safari"),
)  # fmt: skip
_SYSTEMS = (
    (r"iPhone", "iPhone"), (r"iPad", "iPad"), (r"Android", "Android"), (r"Windows", "Windows"),
    (r"CrOS", "ChromeOS"), (r"Mac OS X|Macintosh", "Mac"), (r"Linux|X11", "Linux"),
)  # fmt: skip


def browser_words(user_agent: str) -> str:
    """A browser in short words, without versions: enough to know one's own again. Browsers may say what they like."""
    found = [
        next((name for pattern, name in table if re.search(pattern, user_agent)), "")
        for table in (_BROWSERS, _SYSTEMS)
    ]  # fmt: skip
    return " on ".join(name for name in found if name) or "Unknown browser"
