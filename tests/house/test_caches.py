"""Nothing is kept in one process that another could contradict: settings, rows and rights are read anew each time."""

import ast

from tests.house.test_architecture import ROOT, code_files

# Each is worked out from its arguments alone, so that every process comes to the same.
ALLOWED = {
    "sheets/columns.py:_by_name",  # names of a layout, which is written in the code
    "sheets/dates.py:_parse",  # a spelling as a date
    "sheets/figures.py:_parsed_money",  # a spelling as an amount
}


def test_only_pure_functions_are_cached_and_no_module_keeps_state() -> None:
    found, kept = set(), []
    for path in code_files():
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Global):
                kept.append(f"{path.name}:{node.lineno}")
            elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                names = {ast.unparse(one).partition("(")[0].rpartition(".")[2] for one in node.decorator_list}
                if names & {"cache", "lru_cache"}:
                    found.add(f"{path.relative_to(ROOT / path.relative_to(ROOT).parts[0])}:{node.name}")
    assert found == ALLOWED
    assert not kept
