"""How fast links may be tried: limits in a minute, waits that double, and what counts as one address."""

import pytest

from inventory.rules import throttle
from inventory.rules.throttle import Tries

NOON = 1_800_000_000
NEVER = Tries()


def after(count: int, *, since: Tries = NEVER, now: int = NOON) -> Tries:
    for _ in range(count):
        since = throttle.failed(since, now=now)
    return since


def test_ten_tries_in_a_minute_need_not_wait_and_the_eleventh_does() -> None:
    assert throttle.wait_of(after(10), now=NOON) == 0
    assert throttle.wait_of(after(11), now=NOON) == 60
    assert throttle.wait_of(after(11), now=NOON + 59) == 1
    assert throttle.wait_of(after(11), now=NOON + 60) == 0


def test_a_new_minute_begins_anew() -> None:
    assert throttle.failed(after(10), now=NOON + 60).count == 1


def test_each_wait_is_twice_the_one_before_up_to_an_hour() -> None:
    tries, now, waits = Tries(), NOON, []
    for _ in range(9):
        tries = after(11, since=tries, now=now)
        waits.append(throttle.wait_of(tries, now=now))
        now += waits[-1]
    assert waits == [60, 120, 240, 480, 960, 1920, 3600, 3600, 3600]


def test_tries_during_a_wait_do_not_lengthen_it_but_become_a_flood() -> None:
    tries = after(59)
    assert throttle.wait_of(tries, now=NOON) == 60
    assert not throttle.is_flood(tries, now=NOON)
    assert throttle.is_flood(after(60), now=NOON)
    assert not throttle.is_flood(after(60), now=NOON + 60)


def test_a_flood_waits_for_its_minute_at_least() -> None:
    """Here its longer wait is over, and the minute of the flood is not."""
    flooding = Tries(since=NOON, count=60, waits=1, until=NOON + 10)
    assert throttle.wait_of(flooding, now=NOON + 20) == 40


def test_all_addresses_together_wait_for_the_minute() -> None:
    tries = Tries(since=NOON, count=299)
    assert throttle.wait_of_all(tries, now=NOON + 10) == 0
    assert throttle.wait_of_all(throttle.counted(tries, now=NOON + 10), now=NOON + 10) == 50
    assert throttle.wait_of_all(Tries(since=NOON, count=300), now=NOON + 60) == 0


def test_twenty_deeds_in_an_hour_are_taken_and_the_next_waits() -> None:
    tries = Tries()
    for _ in range(20):
        assert throttle.wait_of_deeds(tries, now=NOON) == 0
        tries = throttle.counted(tries, now=NOON, seconds=throttle.HOUR)
    assert throttle.wait_of_deeds(tries, now=NOON + 600) == 3000
    assert throttle.wait_of_deeds(tries, now=NOON + 3600) == 0


@pytest.mark.parametrize(
    ("address", "network"),
    [
        ("192.0.2.7", "192.0.2.7"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),  # RFC 6177: a site has a /64 at the least
        ("::ffff:192.0.2.7", "192.0.2.7"),
        (" [2001:db8::1] ", "2001:db8::/64"),
        ("", "unknown"),
        ("nonsense", "unknown"),
    ],
)
def test_network_of_an_address(address: str, network: str) -> None:
    assert throttle.network_of(address) == network


def test_only_the_proxys_own_word_is_believed_and_only_behind_a_proxy() -> None:
    forged = "203.0.113.9, 192.0.2.7"
    assert throttle.client_of(remote="198.51.100.1", forwarded=forged, behind_proxy=True) == "192.0.2.7"
    assert throttle.client_of(remote="198.51.100.1", forwarded=forged, behind_proxy=False) == "198.51.100.1"
    assert throttle.client_of(remote="198.51.100.1", forwarded="", behind_proxy=True) == "198.51.100.1"


@pytest.mark.parametrize(
    ("of_account", "of_address", "waits"),
    [(7, 7, False), (8, 1, True), (1, 19, False), (1, 20, True), (0, 0, False)],
)
def test_eight_wrong_passwords_of_an_account_wait_and_twenty_of_an_address(
    of_account: int, of_address: int, waits: bool
) -> None:
    counted = throttle.sign_in_failures(of_account=of_account, of_address=of_address)
    assert (counted >= throttle.ACCOUNT_FAILED) is waits


def test_stand_in_is_a_private_address_that_tells_nothing() -> None:
    assert throttle.stand_in("ab" * 32) == "fdab:abab:abab:abab:abab:abab:abab:abab"


def test_times_still_to_come_are_forgotten_once_the_clock_was_set_back() -> None:
    kept = Tries(since=NOON + 86400, count=60, waits=3, until=NOON + 86460)
    assert throttle.believed(kept, now=NOON) == Tries()
    waiting = Tries(since=NOON - 5, count=11, waits=6, until=NOON + throttle.HOUR)
    assert throttle.believed(waiting, now=NOON) == waiting
