"""What may not come back: cells that run, addresses that are fetched, markup that is trusted, secrets in the tree."""

import ast
import csv
import io
import re
import subprocess
from datetime import UTC, datetime

import pytest
from django.test import Client

from inventory.pages import serving
from inventory.sheets.cells import FORMULA_STARTS
from inventory.sheets.safe_csv import safe_cell, write_rows
from tests import build
from tests.house.test_architecture import ROOT, code_files

SOURCES = {path: path.read_text() for path in code_files()}
HOSTILE = (
    '=HYPERLINK("http://a.example","x")', "+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "\uff1d1+1",
    "\uff0b1", "\uff0d1+1",
    "\uff20x",
)  # fmt: skip


def named(pattern: str) -> set[str]:
    """The files of the product in which a pattern stands."""
    return {str(path.relative_to(ROOT)) for path, text in SOURCES.items() if re.search(pattern, text)}


# Formula injection: one place writes CSV, and what it writes does not run.


def test_only_one_place_writes_csv() -> None:
    assert named(r"\bcsv\.(writer|DictWriter)\b|to_csv\(") == {"inventory/sheets/safe_csv.py"}


def test_every_answer_of_csv_is_made_by_it() -> None:
    """A new download has to be written by `write_rows`, and named here with the file that does it."""
    made = {
        "inventory/pages/pay.py": "inventory/queries/pay_file.py",
        "inventory/pages/for_sale.py": "inventory/queries/for_sale_file.py",
        "inventory/pages/comparison.py": "inventory/queries/comparison_file.py",
        "inventory/pages/onboarding.py": "inventory/sheets/template.py",
        "inventory/pages/import_flow.py": "inventory/sheets/rejects.py",
    }
    assert named(r"text/csv") == set(made)
    assert set(made.values()) == named(r"\bwrite_rows\(") - {"inventory/sheets/safe_csv.py"}


@pytest.mark.parametrize("text", HOSTILE)
def test_cell_that_would_run_is_text(text: str) -> None:
    out = io.StringIO(newline="")
    write_rows(out, rows=[[text, "beside"]])
    (row,) = csv.reader(io.StringIO(out.getvalue(), newline=""))
    assert row[0] == f"'{text}"
    assert not row[0].startswith(FORMULA_STARTS)


@pytest.mark.parametrize("number", ["-12.50", "-1", "0", "48500.00"])
def test_amount_stays_a_number_also_below_zero(number: str) -> None:
    assert safe_cell(number) == number
    for odd in (f"{number}+1", f"{number}\n", f"-{number}-", f"+{number}"):
        assert safe_cell(odd) == (f"'{odd}" if odd.startswith(FORMULA_STARTS) else odd)


# Outgoing requests (SSRF): no code of the house fetches anything.


def test_nothing_is_fetched_from_elsewhere() -> None:
    """Mail alone goes out, to the server of the settings. `urllib.parse` only takes addresses apart."""
    goes_out = {
        "urllib.request",
        "http",
        "http.client",
        "socket",
        "ssl",
        "ftplib",
        "smtplib",
        "requests",
        "httpx",
        "urllib3",
        "aiohttp",
    }
    found = set()
    for path, text in SOURCES.items():
        for node in ast.walk(ast.parse(text)):
            names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            found |= {(str(path.relative_to(ROOT)), name) for name in names if name in goes_out}
    assert found == {("inventory/smtp.py", "smtplib"), ("inventory/actions/sending.py", "smtplib")}


# Redirects.


def test_no_page_redirects_to_what_a_request_names() -> None:
    assert named(r"HTTP_REFERER|[\"']Referer[\"']") == set()
    assert named(r"redirect\(\s*request\.|HttpResponseRedirect\(\s*request\.|redirect\([^)]*(GET|POST)\[") == set()


@pytest.mark.django_db
def test_signing_in_leads_nowhere_else(client: Client) -> None:
    build.staff(build.Role.SALES, at=datetime(2026, 3, 16, 15, tzinfo=UTC))
    given = {"username": "the-sales", "password": build.PASSWORD}
    for elsewhere in ("/\\evil.example", "javascript:alert(1)"):
        answer = client.post("/sign-in/", given | {"next": elsewhere})
        assert (answer.status_code, answer["Location"]) == (302, "/"), elsewhere
        client.logout()


# Headers and files.


@pytest.mark.parametrize(
    "name", ['a"; filename="x.html', "a\r\nSet-Cookie: x=1", "été\u202e.csv", "", "\x00", "a\\b.pdf"]
)
def test_file_name_cannot_leave_its_header(name: str) -> None:
    header = serving.disposition(name, saved=True)
    assert header.isascii()
    assert header.isprintable()
    assert re.fullmatch(r"""attachment; filename(="([^"\\]|\\.)*"|\*=utf-8''[A-Za-z0-9%!#$&+.^_`|~-]+)""", header)


# Markup and SQL.


def test_markup_is_trusted_in_named_places_only() -> None:
    reasons = {
        "inventory/templatetags/inventory.py": "data_block escapes what could close its element",
    }
    assert named(r"mark_safe|SafeString\(|format_html|SafeText") == set(reasons)
    templates = ROOT / "inventory" / "templates"
    unsafe = re.compile(r"\|\s*safe(seq)?\b|\{%\s*autoescape\s+off")
    found = {str(path.relative_to(templates)) for path in templates.rglob("*.*") if unsafe.search(path.read_text())}
    assert all(name.endswith(".txt") for name in found), "plain text of mail alone is not escaped"


def test_no_statement_is_put_together_from_text() -> None:
    reasons = {
        "inventory/apps.py": "triggers: names of the house's own tables",
        "inventory/backup/loading.py": "tables to drop: names of the house's own models, quoted by the backend",
        "inventory/backup/snapshot.py": "what a connection may do meanwhile, no values",
        "inventory/pages/throttling.py": "the cache's own table, values by parameter",
        "inventory/queries/health.py": "whether the database answers, no values",
        "inventory/queries/trust_open.py": "sums over statements that Django made, values by parameter",
    }
    assert named(r"\.raw\(|RawSQL|\.extra\(|connection\.cursor\(") == set(reasons)
    assert named(r"\bpickle\b|\bmarshal\b|yaml\.load|\beval\(|\bexec\(|shell=True|os\.system") == set()


# Secrets.


def test_no_secret_stands_in_the_tree() -> None:
    """Keys and tokens by their usual shapes; what looks like one in a test is made up there and says so."""
    shapes = re.compile(
        r"-----BEGIN [A-Z ]*PRIVATE KEY|\bAKIA[0-9A-Z]{16}\b|\bgh[pousr]_[A-Za-z0-9]{36}|\bxox[bap]-[0-9A-Za-z-]{10,}"
        r"|\bsk_live_[0-9A-Za-z]{16,}|(?i:(secret_?key|api_?key|password|token))\s*=\s*[\"'][A-Za-z0-9+/_=-]{24,}[\"']"
    )
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    paths = [
        ROOT / line
        for line in listed.splitlines()
        if not line.endswith((".png", ".jpg", ".xlsx", ".ttf", ".woff2", ".csv"))
    ]
    guilty = [
        str(path.relative_to(ROOT))
        for path in paths
        if path.is_file() and shapes.search(path.read_text(errors="ignore"))
    ]
    assert guilty == ["tests/test_logs.py"]  # a made-up token of a private link, which has to look like one
    assert not [path for path in paths if path.name == ".env" or path.suffix in {".pem", ".key", ".p12"}]
    assert 'text("SECRET_KEY")' in SOURCES[ROOT / "inventory" / "settings.py"]
