"""How the house is started for real."""

import runpy

import pytest
from django.conf import settings
from django.core.management import get_commands

from inventory.logs import HidePrivateLinks


def test_gunicorn_writes_no_paths_and_serves_with_threads(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PROMETHEUS_MULTIPROC_DIR", "/nowhere")
    conf = runpy.run_path(str(settings.BASE_DIR / ".deploy" / "gunicorn.conf.py"))
    assert conf["accesslog"] is None
    assert (conf["worker_class"], conf["workers"], conf["threads"], conf["preload_app"]) == ("gthread", 2, 4, False)
    hides = conf["logconfig_dict"]["filters"]["no_links"]["()"]
    assert hides == f"{HidePrivateLinks.__module__}.{HidePrivateLinks.__name__}"


def test_the_worker_is_the_one_that_says_that_it_is_there() -> None:
    assert get_commands()["db_worker"] == "inventory"
