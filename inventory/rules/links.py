"""How long a private link opens its page."""

from datetime import date, timedelta

GRACE_DAYS = 60  # after the agreement's end, or after all is settled; common practice, no source


def opens_for(
    *, made_on: date, agreement_ends_on: date | None, closed_on: date | None, is_owed: bool, today: date
) -> timedelta:
    """How long after it was made a link still opens, as things stand today.

    `closed_on` is the day on which the stay was over: settled, paid and handed over. Until then a stay that was sold
    or withdrawn keeps its link (`is_owed`), however long the money takes. A longer agreement makes it last longer.
    """
    if closed_on is not None:
        last = closed_on
    elif is_owed:
        last = max(today, agreement_ends_on or today)
    else:
        last = agreement_ends_on or made_on
    return timedelta(days=(max(last, made_on) - made_on).days + GRACE_DAYS)
