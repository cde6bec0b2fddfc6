"""A private link's token never reaches a log."""

import logging

import pytest

from inventory.logs import HidePrivateLinks

TOKEN = "kQ3v-Zt_9bXwLr0pYc7uJm2sNf5hGd8aEi1oVqTzB4R"


def told(message: str, *args: object) -> str:
    record = logging.LogRecord("django.server", logging.WARNING, __file__, 1, message, args, None)
    assert HidePrivateLinks().filter(record) is True
    return logging.Formatter("%(message)s").format(record)


@pytest.mark.parametrize(
    ("message", "args", "expected"),
    [
        ("Not Found: %s", (f"/status/open/{TOKEN}",), "Not Found: /status/open/(hidden)"),
        (f"GET /status/open/{TOKEN} HTTP/1.1", (), "GET /status/open/(hidden) HTTP/1.1"),
        ('"%s" %s', (f"GET /status/open/{TOKEN}?x=1 HTTP/1.1", "404"), '"GET /status/open/(hidden)?x=1 HTTP/1.1" 404'),
        (f"/status/open/{TOKEN} from /status/open/{TOKEN}", (), "/status/open/(hidden) from /status/open/(hidden)"),
    ],
)
def test_token_is_hidden_wherever_it_stands(message: str, args: tuple[object, ...], expected: str) -> None:
    assert told(message, *args) == expected


def test_other_lines_are_told_as_they_are() -> None:
    assert told("took %d ms, 50%% of it waiting", 12) == "took 12 ms, 50% of it waiting"
    assert told("/status/open/") == "/status/open/"


def test_console_hides_links(settings: object) -> None:
    assert settings.LOGGING["handlers"]["console"]["filters"] == ["no_links"]  # type: ignore[attr-defined]
