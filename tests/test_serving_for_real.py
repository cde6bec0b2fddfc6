"""How the house is started for real."""

import runpy

import pytest
from django.conf import settings
from django.core.management import get_commands
from django.db import connections
from pytest_django import Settings

from inventory.apps import key_for_all_machines
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


def test_key_of_one_machine_is_told_before_there_are_several(
    settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connections["default"], "vendor", "postgresql")
    settings.KEY_IS_OF_THIS_MACHINE = True
    assert [told.id for told in key_for_all_machines()] == ["inventory.W001"]
    settings.KEY_IS_OF_THIS_MACHINE = False
    assert key_for_all_machines() == []
    settings.KEY_IS_OF_THIS_MACHINE = True
    monkeypatch.setattr(connections["default"], "vendor", "sqlite")
    assert key_for_all_machines() == []
