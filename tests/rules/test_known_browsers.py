"""What the cookie of a known browser says, and what of it still counts."""

from inventory.rules import known_browsers as known
from inventory.rules.known_browsers import Known

DAY = 24 * 3600
ONE = Known(1, "nonce", "mark", 1000)


def test_known_is_read_as_it_was_written_and_nothing_else_is_read() -> None:
    assert known.read(known.written([ONE])) == [ONE]
    for other in (None, {"a": 1}, [1], [[1, "n"]], [["1", "n", "m", 2]], [[True, "n", "m", 2]]):
        assert known.read(other) == [], other


def test_known_lives_ninety_days_from_its_own_sign_in_and_not_before_it() -> None:
    nows = (999, 1000, 1000 + 90 * DAY - 1, 1000 + 90 * DAY)
    assert [len(known.live([ONE], now=now)) for now in nows] == [0, 1, 1, 0]


def test_known_keeps_the_last_few_people_each_once() -> None:
    found: list[Known] = []
    for user_id in (1, 2, 3, 1, 4, 5, 6, 7):
        found = known.with_new(found, new=Known(user_id, "n", "m", 0))
    assert [one.user_id for one in found] == [7, 6, 5, 4, 1, 3]
