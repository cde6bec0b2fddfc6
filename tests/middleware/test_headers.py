"""The headers of every kind of answer. Numbers are those of OWASP ASVS 5.0."""

import json
import os
import subprocess
import sys
from datetime import datetime
from typing import Any

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse
from pytest_django import Settings

from inventory.actions import linking
from inventory.rules.roles import Role
from tests import build
from tests.pages.browse import sign_in

pytestmark = pytest.mark.django_db


def sample(client: Client, *, at: datetime) -> dict[str, Any]:
    """One answer of each kind: page, status page, for sale, API, its documentation, file, and errors."""
    stay = build.consignment(build.State.LISTED, at=at)
    token = linking.make_link(stay.pk, by=build.BUILDER, at=at)[1]
    stranger = Client()
    answers = {
        "sign in": stranger.get(reverse("sign_in")), "link": stranger.get(reverse("open_link", args=[token])),
        "for sale": stranger.get("/for-sale/"), "nothing": stranger.get("/nothing-here"),
        "csrf": Client(enforce_csrf_checks=True).post(reverse("sign_in"), {}),
        "api without": stranger.get("/api/v1/me/"), "host": stranger.get("/", headers={"host": "elsewhere.example"}),
    }  # fmt: skip
    sign_in(client, build.staff(Role.OWNER, at=at))
    return answers | {path: client.get(path) for path in ("/floor/", "/api/v1/me/", "/api/docs/", "/prospects/")}


def test_every_kind_of_answer_carries_every_header(client: Client, at: datetime) -> None:
    for kind, answer in sample(client, at=at).items():
        headers = answer.headers
        assert headers["X-Content-Type-Options"] == "nosniff", kind  # 3.4.4
        assert headers["Referrer-Policy"] == "same-origin", kind  # 3.4.5
        assert headers["Cross-Origin-Opener-Policy"] == "same-origin", kind  # 3.4.8
        assert headers["Cross-Origin-Resource-Policy"] in {"same-origin", "cross-origin"}, kind  # 3.5.8
        assert "camera=(), " in headers["Permissions-Policy"], kind
        assert len(headers["X-Request-Id"]) == 12, kind
        if kind != "host":  # refused before a page is thought of
            assert headers["X-Frame-Options"] == "DENY", kind  # 3.4.6
            policy = headers["Content-Security-Policy"]  # 3.4.3
            for part in ("default-src 'none'", "script-src 'self'", "object-src 'none'", "base-uri 'none'",
                         "frame-ancestors 'none'", "form-action 'self'"):  # fmt: skip
                assert part in policy, (kind, part)
            assert "unsafe-eval" not in policy, kind
            assert ("unsafe-inline" in policy) == (kind == "/api/docs/"), kind
        assert ("noindex" in headers.get("X-Robots-Tag", "")) == (kind != "for sale"), kind
        assert ("Cache-Control" in headers) or kind == "for sale", kind  # 14.3.2


def test_transport_is_strict_for_a_year_and_signing_out_clears_the_cache(
    client: Client, at: datetime, settings: Settings
) -> None:
    settings.SECURE_HSTS_SECONDS = 365 * 24 * 3600
    secure = Client(headers={"host": "localhost"})
    assert "max-age=31536000" in secure.get(reverse("sign_in"), secure=True)["Strict-Transport-Security"]  # 3.4.1
    sign_in(client, build.staff(Role.SALES, at=at))
    assert client.post(reverse("sign_out"))["Clear-Site-Data"] == '"cache"'  # 14.3.1


def test_a_search_engine_may_find_what_is_for_sale_and_nothing_that_is_not_there(client: Client) -> None:
    assert client.get("/for-sale/")["Cross-Origin-Resource-Policy"] == "cross-origin"
    missing = client.get("/for-sale/00000000-0000-0000-0000-000000000000/")
    assert (missing.status_code, missing["X-Robots-Tag"]) == (404, "noindex, nofollow")


def test_cookies_with_https_belong_to_this_host_alone() -> None:
    """3.3.1 to 3.3.4: Secure, __Host-, SameSite, HttpOnly."""
    asked = (
        "import json; from inventory import settings as s; print(json.dumps([s.SESSION_COOKIE_NAME, s.CSRF_COOKIE_NAME,"
        " s.SESSION_COOKIE_SECURE, s.CSRF_COOKIE_SECURE, s.SESSION_COOKIE_SAMESITE, s.CSRF_COOKIE_HTTPONLY,"
        " s.SECURE_SSL_REDIRECT, s.SECURE_HSTS_SECONDS, s.LOG_FORMAT, s.LOG_LEVEL]))"
    )
    env = {**os.environ, "HTTPS": "1", "SECRET_KEY": "x" * 60}
    told = subprocess.run(
        [sys.executable, "-c", asked], env=env, cwd=settings.BASE_DIR, capture_output=True, text=True, check=True
    )
    assert json.loads(told.stdout) == [
        "__Host-sessionid", "__Host-csrftoken", True, True, "Lax", True, True, 31536000, "json", "INFO"
    ]  # fmt: skip


def test_cookies_are_httponly_and_same_site(client: Client, at: datetime) -> None:
    build.staff(Role.OWNER, at=at)
    client.get(reverse("sign_in"))
    client.post(reverse("sign_in"), {"username": "the-owner", "password": build.PASSWORD})
    assert {"sessionid", "csrftoken"} <= set(client.cookies)
    for cookie in client.cookies.values():
        assert (cookie["httponly"], cookie["samesite"], cookie["path"], cookie["domain"]) == (True, "Lax", "/", "")
