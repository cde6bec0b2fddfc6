"""Clips in stretches, as players ask for them (RFC 9110, section 14)."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.pages.serving import stretch_of


@pytest.mark.parametrize(
    ("header", "stretch"),
    [
        ("", None),
        ("bytes=0-", (0, 99)),
        ("bytes=0-0", (0, 0)),
        ("bytes=10-19", (10, 19)),
        ("bytes=90-900", (90, 99)),
        ("bytes=99-", (99, 99)),
        ("bytes=-5", (95, 99)),
        ("bytes=-500", (0, 99)),
        ("bytes=100-", (100, 99)),  # beyond the end
        ("bytes=-0", (100, 99)),  # nothing of it
        ("bytes=0-1,5-6", None),  # several: all is sent
        ("bytes=9-3", None),
        ("bytes=-", None),
        ("bytes=a-b", None),
        ("pages=1-2", None),
        ("bytes=" + "9" * 40 + "-", None),
    ],
)
def test_stretch_of_a_hundred_bytes(header: str, stretch: tuple[int, int] | None) -> None:
    assert stretch_of(header, size=100) == stretch


@given(header=st.from_regex(r"bytes=\d{0,4}-\d{0,4}", fullmatch=True), size=st.integers(1, 3000))
def test_stretch_lies_within_the_file_or_begins_beyond_it(header: str, size: int) -> None:
    found = stretch_of(header, size=size)
    if found is not None:
        first, last = found
        assert last < size
        assert first <= last or first >= size
