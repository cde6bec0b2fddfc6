"""What the house remembers in a session of staff: since when, when it was last seen, when a password was last typed."""

from typing import Any

from django.contrib.auth import logout
from django.forms import BaseForm, CharField, PasswordInput
from django.http import HttpRequest
from django.utils import timezone
from django.utils.crypto import salted_hmac

from inventory.actions import sessions
from inventory.pages.sign_in_tries import client_of
from inventory.queries.sign_in import digest_of_session
from inventory.rules import sign_in, throttle


class SignedOut(Exception):
    """Too many wrong passwords by somebody who was signed in."""


def digest_of(request: HttpRequest) -> str:
    return digest_of_session(request.session.session_key or "")


def network_of(request: HttpRequest) -> str:
    """Says whether two sessions come from one network, and not which."""
    return salted_hmac("inventory.sessions", client_of(request), algorithm="sha256").hexdigest()[:16]


def note(request: Any, *, user_id: int) -> None:
    """At sign-in, and on any page when it was last done some minutes ago. A session ends for good after its days."""
    now, digest, stamp = timezone.now(), digest_of(request), _stamp(request)
    if stamp.get("digest") == digest and now.timestamp() - stamp["seen"] < sign_in.SEEN_EVERY:
        return
    sessions.note(
        digest, was=stamp.get("digest", ""), user_id=user_id, network=network_of(request), at=now,
        browser=sign_in.browser_words(request.headers.get("User-Agent", "")),
    )  # fmt: skip
    if not stamp:
        request.session.set_expiry(now + sign_in.SESSION_LIFE)
    request.session[sign_in.STAMP] = {**stamp, "digest": digest, "seen": now.timestamp()}


def stamp_check(request: Any) -> None:
    """The password or a code was typed now."""
    request.session[sign_in.STAMP] = {**_stamp(request), "checked": timezone.now().timestamp()}


def is_fresh(request: HttpRequest) -> bool:
    return sign_in.is_fresh(_stamp(request), now=timezone.now())


def ask_again(request: HttpRequest, *, form: BaseForm, always: bool = False) -> None:
    """A form about money or staff asks for the password too, where it was last typed a while ago."""
    if always or not is_fresh(request):
        form.fields["own_password"] = CharField(
            label="Your own password", strip=False, max_length=200,
            help_text="Asked again before money, staff or sign-in are changed.",
            widget=PasswordInput(attrs={"autocomplete": "current-password"}),
        )  # fmt: skip


def is_known(request: HttpRequest, *, form: BaseForm) -> bool:
    """Whether a form that is valid carries the right password, or need not."""
    if "own_password" not in form.fields:
        return True
    if knows_password(request, form.cleaned_data.pop("own_password")):
        return True
    form.add_error("own_password", "This is not your password. Type the one you sign in with.")
    return False


def knows_password(request: Any, password: str) -> bool:
    """Counted by session: after some wrong ones it ends, for whoever sits there may be a stranger."""
    if request.user.check_password(password):
        sessions.count_right(digest_of(request))
        stamp_check(request)
        return True
    count_wrong(request)
    return False


def count_wrong(request: HttpRequest) -> None:
    digest = digest_of(request)
    if sessions.count_wrong(digest) >= throttle.RECHECKS:
        sessions.forget(digest)
        logout(request)
        raise SignedOut


def _stamp(request: HttpRequest) -> dict[str, Any]:
    return dict(request.session.get(sign_in.STAMP, {}))
