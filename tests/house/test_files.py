"""Every file that comes from outside asks first whether the disk has room, and there is no way round the asking."""

import ast
from pathlib import Path

from django.apps import apps
from django.db import models

ACTIONS = Path(__file__).resolve().parents[2] / "inventory" / "actions"

# Where each is taken in. All go through `writing.keep_file`, which asks.
FROM_OUTSIDE = {
    "photo.file": "recording", "photo.thumbnail": "recording", "photo.original": "recording", "clip.file": "filming",
    "prospectphoto.file": "prospecting", "prospectphoto.thumbnail": "prospecting", "testdrive.licence_copy": "driving",
    "disbursement.proof": "settling", "salesimport.file": "importing",
}  # fmt: skip
# Papers of some kilobytes, and the rejects of a sheet that was asked for: a deal is not held up by them.
MADE_HERE = {"arrivalreceipt.file": "receiving", "release.file": "releasing", "salesimport.rejects": "tasks"}


def kept_in(path: Path) -> set[str]:
    """The columns of this module that `keep_file` writes."""
    calls = [node for node in ast.walk(ast.parse(path.read_text())) if isinstance(node, ast.Call)]
    return {
        node.args[0].attr
        for node in calls
        if getattr(node.func, "id", "") == "keep_file" and isinstance(node.args[0], ast.Attribute)
    }


def test_every_column_of_files_is_asked_for_or_made_here() -> None:
    columns = {
        f"{model._meta.model_name}.{field.name}"
        for model in apps.get_app_config("inventory").get_models()
        for field in model._meta.concrete_fields
        if isinstance(field, models.FileField)
    }
    assert columns == {*FROM_OUTSIDE, *MADE_HERE}


def test_each_file_from_outside_goes_through_the_one_place_that_asks() -> None:
    told: dict[str, set[str]] = {}
    for column, module in FROM_OUTSIDE.items():
        told.setdefault(module, set()).add(column.split(".")[1])
    assert {path.stem: kept for path in ACTIONS.glob("*.py") if (kept := kept_in(path))} == told


def test_nothing_else_puts_a_file_into_a_row() -> None:
    """Neither `.save(…, save=False)` of a file, nor a file given to a column, nor the writing that does not ask."""
    found = set()
    for path in ACTIONS.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Call) and any(word.arg == "save" for word in node.keywords):
                found.add((path.stem, "save"))
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "write_file":
                found.add((path.stem, "write_file"))
            if isinstance(node, ast.Assign) and isinstance(node.value, ast.Call):
                is_column = any(isinstance(target, ast.Attribute) for target in node.targets)
                if is_column and getattr(node.value.func, "id", "") in {"ContentFile", "File"}:
                    found.add((path.stem, "column"))
    assert found == {
        ("writing", "save"), ("writing", "write_file"), ("tasks", "write_file"), ("receiving", "column"),
        ("releasing", "column"),
    }  # fmt: skip
