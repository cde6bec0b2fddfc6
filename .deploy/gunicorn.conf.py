"""gunicorn -c .deploy/gunicorn.conf.py inventory.wsgi

Two processes of four threads: with slow phones sending photos a process without threads keeps everybody else waiting.
"""

import os
import tempfile
from pathlib import Path

_counts = os.environ.setdefault(
    "PROMETHEUS_MULTIPROC_DIR", str(Path(tempfile.gettempdir()) / f"lot-metrics-{os.getuid()}-{os.getpid()}")
)

from prometheus_client import multiprocess  # noqa: E402  # it looks at the variable when it is imported

bind = os.environ.get("BIND", "127.0.0.1:8000")
worker_class = "gthread"
workers = int(os.environ.get("WEB_PROCESSES", "2"))
threads = int(os.environ.get("WEB_THREADS", "4"))
preload_app = False  # connections and counts belong to one process each
max_requests = 5000
max_requests_jitter = 500
timeout = 60  # a process that says nothing for so long is ended; a request in a thread may take longer
graceful_timeout = 30
keepalive = 5
worker_tmp_dir = "/dev/shm" if Path("/dev/shm").is_dir() else None  # noqa: S108  # heartbeats want no disk

_lines = "PlainLines" if os.environ.get("LOG_FORMAT") == "plain" else "JsonLines"
accesslog = None  # it would write paths with link tokens; the house writes a line of its own for each request
errorlog = "-"
logconfig_dict = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"lines": {"()": f"inventory.logs.{_lines}"}},
    "filters": {"no_links": {"()": "inventory.logs.HidePrivateLinks"}},
    "handlers": {"error": {"class": "logging.StreamHandler", "formatter": "lines", "filters": ["no_links"]}},
    "root": {"handlers": ["error"], "level": "WARNING"},
    "loggers": {"gunicorn.error": {"handlers": ["error"], "level": "INFO", "propagate": False}},
}


def on_starting(server: object) -> None:
    """Counts of an earlier run are not this one's."""
    Path(_counts).mkdir(parents=True, mode=0o700, exist_ok=True)
    _clear()


def child_exit(server: object, worker: object) -> None:
    """What a process that is gone was answering is no longer in flight; what it counted stays."""
    multiprocess.mark_process_dead(worker.pid)


def on_exit(server: object) -> None:
    _clear()


def _clear() -> None:
    for counts in Path(_counts).glob("*.db"):
        counts.unlink()
