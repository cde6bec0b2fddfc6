"""The lot as a server whose clock goes wrong by CLOCK_OFF seconds: `gunicorn tests.bench.faults.late:application`."""

import os
from datetime import UTC, datetime, timedelta

from django.utils import timezone

OFF = timedelta(seconds=int(os.environ.get("CLOCK_OFF", "0")))


def wrong_now() -> datetime:
    return datetime.now(tz=UTC) + OFF


timezone.now = wrong_now

from inventory.wsgi import application

__all__ = ["application"]
