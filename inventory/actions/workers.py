"""Whether long work is left to a worker."""

from django_tasks import DEFAULT_TASK_BACKEND_ALIAS, task_backends
from django_tasks.backends.immediate import ImmediateBackend


def has_worker() -> bool:
    """Without one (TASKS=immediate) what is handed over would be done by whoever asks, in their request."""
    return not isinstance(task_backends[DEFAULT_TASK_BACKEND_ALIAS], ImmediateBackend)
