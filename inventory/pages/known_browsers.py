"""The cookie of a browser that somebody signed in with before. It opens nothing: it has tries counted by themselves.

Whoever shows none that is right is asked nothing more of the database than before, and whoever does has it asked for
the accounts in the cookie, never for the name that was typed: answer and time tell nobody which names there are.
"""

from typing import Any

from django.conf import settings
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.crypto import constant_time_compare, get_random_string, salted_hmac

from inventory.queries import sign_in as queries
from inventory.rules import known_browsers
from inventory.rules.known_browsers import Known

SALT = "inventory.known_browser"


def cookie_name() -> str:
    return f"{'__Host-' if settings.HTTPS else ''}known_browser"


def known_as(request: HttpRequest, *, name: str) -> str:
    """Under what the tries of this browser at this account are counted; nothing where it is not known for it."""
    all_known = _all_known(request)
    accounts = queries.passwords_of(one.user_id for one in all_known) if all_known else {}
    for one in all_known:
        username, password_hash = accounts.get(one.user_id, ("", ""))
        if username and username == name and _is_right(one, password_hash=password_hash):
            return salted_hmac(SALT, f"count:{one.nonce}", algorithm="sha256").hexdigest()[:32]
    return ""


def remember(answer: HttpResponse, *, request: HttpRequest, user: Any) -> HttpResponse:
    """After a complete sign-in, with the code where there is one."""
    nonce, now = get_random_string(22), int(timezone.now().timestamp())
    mark = _mark(user.pk, nonce=nonce, password_hash=user.get_session_auth_hash())
    all_known = known_browsers.with_new(_all_known(request), new=Known(user.pk, nonce, mark, now))
    answer.set_cookie(
        cookie_name(), signing.dumps(known_browsers.written(all_known), salt=SALT), max_age=known_browsers.LIFE,
        path="/", secure=settings.HTTPS, httponly=True, samesite="Lax",
    )  # fmt: skip
    return answer


def _all_known(request: HttpRequest) -> list[Known]:
    given = request.COOKIES.get(cookie_name(), "")
    try:
        told = signing.loads(given, salt=SALT, max_age=known_browsers.LIFE) if given else []
    except signing.BadSignature:  # forged, cut, or signed too long ago
        return []
    return known_browsers.live(known_browsers.read(told), now=int(timezone.now().timestamp()))


def _is_right(one: Known, *, password_hash: str) -> bool:
    return constant_time_compare(one.mark, _mark(one.user_id, nonce=one.nonce, password_hash=password_hash))


def _mark(user_id: int, *, nonce: str, password_hash: str) -> str:
    """Another password, another mark. It is keyed: who reads the cookie can try no passwords on it."""
    return salted_hmac(SALT, f"{user_id}:{nonce}:{password_hash}", algorithm="sha256").hexdigest()[:32]
