"""What the audit of `.ci` says of the answers of pip-audit, of what is passed over, and of silence."""

import importlib.machinery
import importlib.util
import json
import sys
from datetime import date
from typing import Any

import pytest

from tests.house.test_architecture import ROOT

TODAY = date(2026, 11, 26)
HOLE = {"name": "Django", "version": "5.2", "vulns": [{"id": "PYSEC-1", "aliases": ["CVE-1"], "fix_versions": ["5.3"]}]}
CLEAN = {"name": "numpy", "version": "2.4", "vulns": []}


@pytest.fixture(scope="module")
def audit() -> Any:
    loader = importlib.machinery.SourceFileLoader("ci_audit", str(ROOT / ".ci" / "audit"))
    module = importlib.util.module_from_spec(importlib.util.spec_from_loader("ci_audit", loader))  # type: ignore[arg-type]
    sys.modules["ci_audit"] = module  # dataclasses look their module up
    loader.exec_module(module)
    return module


def said(*told: dict[str, Any]) -> str:
    return json.dumps({"dependencies": told, "fixes": []})


@pytest.mark.parametrize(
    ("text", "verdict"),
    [
        (said(CLEAN), "clean"), (said(CLEAN, HOLE), "holes"), (said(), "broken"), ("", "broken"), ("{}", "broken"),
        (said(CLEAN, {"name": "x", "skip_reason": "not found on PyPI"}), "broken"),
        (said({"name": "x", "skip_reason": "not found on PyPI"}), "unreachable"),
        ("requests.exceptions.ConnectionError: Max retries exceeded with url: /pypi", "unreachable"),
        ("Traceback …\nKeyError: 'vulns'", "broken"),
    ],
)  # fmt: skip
def test_only_an_answer_without_a_hole_is_clean(audit: Any, text: str, verdict: str) -> None:
    assert audit.verdict(text, today=TODAY)[0] == verdict


def test_a_hole_is_passed_over_until_its_day(audit: Any) -> None:
    passed = (audit.Passed("CVE-1", "django", "only with a database that is not used", date(2026, 11, 26)),)
    assert audit.verdict(said(HOLE), today=TODAY, passed=passed)[0] == "clean"
    assert audit.verdict(said(HOLE), today=date(2026, 11, 27), passed=passed)[0] == "holes"
    assert all(one.why and one.until.year < 2100 for one in audit.PASSED_OVER)
