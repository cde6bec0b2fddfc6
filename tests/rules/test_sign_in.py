"""What is still owed after the password, how codes are typed and shown, and RFC 6238 as the app reckons it."""

from urllib.parse import parse_qs, urlsplit

import pytest
from django_otp.oath import TOTP

from inventory.rules import sign_in
from inventory.rules.roles import STAFF_ROLES, Role
from inventory.rules.sign_in import FactorRule, Owed


@pytest.mark.parametrize("role", STAFF_ROLES)
@pytest.mark.parametrize("rule", FactorRule)
def test_who_has_a_factor_owes_a_code_whatever_the_rule_says(role: Role, rule: FactorRule) -> None:
    assert sign_in.owed(has_factor=True, is_verified=False, role=role, rule=rule) == Owed.CODE
    assert sign_in.owed(has_factor=True, is_verified=True, role=role, rule=rule) is None


def test_who_has_none_owes_the_setting_up_where_the_rule_says_so() -> None:
    asked = {
        rule: {role for role in STAFF_ROLES if sign_in.owed(has_factor=False, is_verified=False, role=role, rule=rule)}
        for rule in FactorRule
    }
    assert asked == {
        FactorRule.NOBODY: set(), FactorRule.OWNERS: {Role.OWNER}, FactorRule.ALL: set(STAFF_ROLES),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("seconds", "code"),
    [
        (59, 94287082),
        (1111111109, 7081804),
        (1111111111, 14050471),
        (1234567890, 89005924),
        (2000000000, 69279037),
        (20000000000, 65353130),
    ],
)
def test_codes_are_those_of_rfc_6238(seconds: int, code: int) -> None:
    """RFC 6238, appendix B, the column of SHA-1: secret "12345678901234567890", steps of 30 s, eight digits."""
    totp = TOTP(b"12345678901234567890", step=30, t0=0, digits=8)
    totp.time = seconds
    assert totp.token() == code


def test_key_uri_carries_the_secret_and_both_names() -> None:
    uri = urlsplit(sign_in.key_uri("the-owner", issuer="Tarn: Lane & Co", key=b"12345678901234567890"))
    assert (uri.scheme, uri.netloc, uri.path) == ("otpauth", "totp", "/Tarn%20%20Lane%20%26%20Co%3Athe-owner")
    given = parse_qs(uri.query)
    assert given["secret"] == ["GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"]  # RFC 4648 base32 of the key of RFC 6238
    assert (given["issuer"], given["digits"], given["period"]) == (["Tarn  Lane & Co"], ["6"], ["30"])
    assert sign_in.typed_secret(b"12345678901234567890").replace(" ", "") == given["secret"][0]


def test_codes_are_read_however_they_are_spaced() -> None:
    assert sign_in.plain_code(" ABcde-fgh23\t") == "abcdefgh23"
    assert sign_in.shown_code("abcdefgh23") == "abcde-fgh23"
    assert sign_in.is_from_app(sign_in.plain_code("123 456"))
    assert not sign_in.is_from_app("١٢٣٤٥٦")


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0", "Firefox on Linux"),
        (
            "Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/140.0.0.0 "
            "Safari/537.36 Edg/140.0.0.0",
            "Edge on Windows",
        ),
        (
            "Mozilla/5.0 (Linux; Android 15; Pixel 9) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/140.0.0.0 Mobile "
            "Safari/537.36",
            "Chrome on Android",
        ),
        (
            "Mozilla/5.0 (iPhone; CPU iPhone OS 18_0 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) "
            "Version/18.0 Mobile/15E148 Safari/604.1",
            "Safari on iPhone",
        ),
        ("curl/8.5.0", "Unknown browser"),
        ("<script>alert(1)</script>", "Unknown browser"),
    ],
)
def test_browser_is_told_in_short_words(said: str, words: str) -> None:
    assert sign_in.browser_words(said) == words
