"""Browsers that somebody signed in with before: what their cookie says, for how long, and of how many people.

The idea is OWASP's “Slow Down Online Guessing Attacks with Device Cookies”. Who has such a cookie is no stranger, and
still has to know the password: all it gives is tries that are counted by themselves.
"""

from collections.abc import Iterable, Sequence
from dataclasses import astuple, dataclass
from datetime import timedelta

LIFE = timedelta(days=90)
MOST = 6  # people of one browser: a computer of the lot is used by several


@dataclass(frozen=True)
class Known:
    """One account signed in here: its id, what tells this browser from others, a mark of the password, since when."""

    user_id: int
    nonce: str
    mark: str
    since: int  # seconds


def read(told: object) -> list[Known]:
    """What a cookie of ours says; nothing where it is of another form than today's."""
    rows = told if isinstance(told, list) else []
    return [Known(*row) for row in rows if isinstance(row, list) and [type(one) for one in row] == [int, str, str, int]]


def written(all_known: Iterable[Known]) -> list[list[int | str]]:
    return [list(astuple(one)) for one in all_known]


def live(all_known: Iterable[Known], *, now: int) -> list[Known]:
    """Whatever comes from the future is not believed: the clock was set back."""
    return [one for one in all_known if 0 <= now - one.since < LIFE.total_seconds()]


def with_new(all_known: Sequence[Known], *, new: Known) -> list[Known]:
    """The latest comes first, each account once, and of many the last few."""
    return [new, *(one for one in all_known if one.user_id != new.user_id)][:MOST]
