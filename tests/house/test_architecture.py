"""The house's own laws: sizes, the one state change, the top level, what the layers may import."""

import ast
import re
import subprocess
from pathlib import Path

import pytest
from django.apps import apps
from django.db import models

from inventory.rules.erasing import KEPT, NAMED_WITHIN

ROOT = Path(__file__).resolve().parents[2]
TOP = {"README.md", "DEVELOPERS.md", "manage.py", "requirements.txt", "inventory", "valuation", "fixtures", "tests"}
TABLES = {"migrations"}
LIMITS = {".html": 120, ".js": 150, ".css": 200}


def code_files() -> list[Path]:
    found = [path for room in ("inventory", "valuation") for path in sorted((ROOT / room).rglob("*.py"))]
    return [path for path in found if not TABLES & set(path.parts)]


def functions(path: Path) -> list[tuple[str, int]]:
    """Each function with its lines of code; a docstring does not count."""
    counted = []
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            told = node.body[0]
            has_docstring = isinstance(told, ast.Expr) and isinstance(told.value, ast.Constant)
            words = (told.end_lineno or 0) - told.lineno + 1 if has_docstring else 0
            counted.append((f"{path.name}:{node.name}", (node.end_lineno or 0) - node.lineno + 1 - words))
    return counted


def test_no_function_is_over_60_lines() -> None:
    long = [(name, lines) for path in code_files() for name, lines in functions(path) if lines > 60]
    assert not long


def test_functions_are_short_on_the_whole() -> None:
    lines = sorted(count for path in code_files() for _, count in functions(path))
    assert lines[len(lines) // 2] <= 10
    assert lines[len(lines) * 9 // 10] <= 30


def test_no_file_is_over_500_lines() -> None:
    assert not [str(path) for path in code_files() if len(path.read_text().splitlines()) > 500]


@pytest.mark.parametrize(("suffix", "most"), LIMITS.items())
def test_templates_scripts_and_styles_are_small(suffix: str, most: int) -> None:
    found = [path for path in (ROOT / "inventory").rglob(f"*{suffix}") if "vendor" not in path.parts]
    assert not [str(path) for path in found if len(path.read_text().splitlines()) > most]


def test_only_moving_changes_a_state() -> None:
    change = re.compile(r"\.state\s*=[^=]|update\([^)]*\bstate=|change\([^)]*\bstate=")
    guilty = [path.name for path in code_files() if change.search(path.read_text()) and path.name != "moving.py"]
    assert not guilty


def test_only_money_rounds() -> None:
    rounding = re.compile(r"\.quantize\(|ROUND_HALF|%\.2f")
    allowed = {"money.py", "scores.py", "fields.py", "figures.py"}  # scores are points, fields refuse the unrounded
    guilty = [
        str(path.relative_to(ROOT))
        for path in code_files()
        if path.is_relative_to(ROOT / "inventory") and rounding.search(path.read_text()) and path.name not in allowed
    ]
    assert not guilty


def test_no_import_hides_inside_a_function() -> None:
    hidden = [
        f"{path.name}:{inner.lineno}"
        for path in code_files()
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.FunctionDef)
        for inner in ast.walk(node)
        if isinstance(inner, ast.Import | ast.ImportFrom)
    ]
    assert not hidden


def test_templates_hold_no_inline_script_or_style() -> None:
    inline = re.compile(r"<style|\sstyle=|<script(?![^>]*\bsrc=)|\son[a-z]+=|https?://(?!www\.w3\.org)", re.IGNORECASE)
    # A block of data is no script: one element, one filter that escapes what could close it.
    block = '<script type="application/ld+json">{{ data|data_block }}</script>'
    pages = {path: path.read_text().replace(block, "") for path in (ROOT / "inventory").rglob("*.html")}
    guilty = [str(path) for path, text in pages.items() if inline.search(text)]
    assert not guilty


def test_top_level_is_what_it_should_be() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    visible = {line.split("/")[0] for line in listed.splitlines() if not line.startswith(".")}
    assert visible <= TOP


FREE_TEXT = {"note", "text", "reason", "what", "said", "detail", "caption", "who", "story"}


def test_every_column_of_free_text_is_emptied_or_kept_with_a_reason() -> None:
    """Of a person whose data are erased: a new column that somebody may be named in goes into `rules/erasing`."""
    listed = {*NAMED_WITHIN, *KEPT, "carerule.what"}  # what is done at a kind of care, of the whole lot
    columns = {
        f"{model._meta.model_name}.{field.name}"
        for model in apps.get_app_config("inventory").get_models()
        for field in model._meta.concrete_fields
        if field.name in FREE_TEXT and isinstance(field, models.CharField | models.TextField) and not field.choices
    }
    assert len(columns) > 40
    assert columns - listed == set()
