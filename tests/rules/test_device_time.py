"""What devices said, in the house's time: of one clock the last is the last, however long the way was."""

from datetime import UTC, datetime, timedelta
from random import Random

from hypothesis import given
from hypothesis import strategies as st

from inventory.rules.device_time import Said, in_order, said

T = datetime(2026, 3, 16, 15, 0, tzinfo=UTC)


def after(seconds: float) -> datetime:
    return T + timedelta(seconds=seconds)


def test_clock_that_is_a_day_ahead_is_set_right_by_when_it_sends() -> None:
    day = timedelta(days=1)
    assert said(after(10) + day, sent_at=after(60) + day, at=after(60)) == Said(after(10) + day, after(10))
    assert said(after(900), sent_at=T, at=T).told_at == T


def test_clock_that_was_set_back_meanwhile_is_another_clock() -> None:
    earlier = said(after(0) + timedelta(hours=1), sent_at=after(5) + timedelta(hours=1), at=after(5))
    later = said(after(30), sent_at=after(40), at=after(40))
    assert in_order(later, others=[earlier]) == after(30)


TAPS = st.lists(
    st.tuples(st.floats(0, 600), st.floats(0, 300), st.floats(0, 20)),
    min_size=2, max_size=8, unique_by=lambda one: round(one[0], 3),
)  # fmt: skip


@given(taps=TAPS, shuffler=st.randoms(use_true_random=False))
def test_of_one_clock_the_tap_made_last_is_the_one_told_last(
    taps: list[tuple[float, float, float]], shuffler: Random
) -> None:
    """Each waits on the device, then is on its way for up to the time after which a device gives up."""
    come = [said(after(made), sent_at=after(made + waits), at=after(made + waits + way)) for made, waits, way in taps]
    shuffler.shuffle(come)
    kept: list[Said] = []
    for one in come:
        kept.append(Said(one.made_at, in_order(one, others=kept)))
        told_last = max(enumerate(kept), key=lambda each: (each[1].told_at, each[0]))[1]
        assert told_last.made_at == max(one.made_at for one in kept)
