"""Whether long work is left to a worker, and the sign that one is there."""

from datetime import datetime

from django.core.cache import cache
from django_tasks import DEFAULT_TASK_BACKEND_ALIAS, task_backends
from django_tasks.backends.immediate import ImmediateBackend

from inventory.queries.health import WORKER_SEEN

DAY = 24 * 3600


def has_worker() -> bool:
    """Without one (TASKS=immediate) what is handed over would be done by whoever asks, in their request."""
    return not isinstance(task_backends[DEFAULT_TASK_BACKEND_ALIAS], ImmediateBackend)


def seen(*, at: datetime) -> None:
    """A worker says that it is there. No deed: nobody's history tells of it, and it may be lost."""
    cache.set(WORKER_SEEN, int(at.timestamp()), timeout=DAY)
