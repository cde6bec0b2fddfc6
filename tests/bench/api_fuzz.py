"""The API under attack: schemathesis, all its checks and phases, against a running gunicorn on a lot of its own.

By hand: `.venv/bin/python -m tests.bench.api_fuzz --role owner --minutes 10`. It makes the demo lot in an empty folder
(or copies one: `--lot FOLDER`), gives real stock numbers, codes and ids to the generator, counts what was answered by
each route, and afterwards asks whether the books of the lot still hold. It ends with 1 on any finding.
"""

import argparse
import http.client
import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import django

FOLDER = tempfile.TemporaryDirectory()
os.environ |= {"DATA_DIR": f"{FOLDER.name}/lot", "DJANGO_SETTINGS_MODULE": "inventory.settings", "TASKS": "immediate"}
os.environ.pop("DATABASE_URL", None)
django.setup()  # on the fresh folder, so before any model is loaded

from django.apps import apps  # noqa: E402
from django.utils import timezone  # noqa: E402

from inventory.actions import staffing  # noqa: E402
from inventory.models import Settlement  # noqa: E402
from inventory.queries import trust  # noqa: E402
from inventory.rules.money import ZERO, total  # noqa: E402
from inventory.rules.roles import Role  # noqa: E402

ROOT = Path(__file__).resolve().parents[2]
TOOLS = Path(sys.executable).parent
# What the rows of a stay are called in its addresses.
INNER = {
    "offer_id": "Offer", "charge_id": "Charge", "request_id": "ConsentRequest", "question_id": "ConsignorQuestion",
    "extra_id": "DealExtra", "payment_id": "BuyerPayment",
}  # fmt: skip

# It calls every 400 to data that fits the schema a fault, also “this vehicle is sold already”. In its place stands
# `refused_by_rule_alone` of the hooks, which lets pass what a rule of the house refused, and nothing else.
LEFT_OUT = ("positive_data_acceptance",)


def options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--role", choices=["owner", "sales", "intake"], default="owner")
    parser.add_argument("--minutes", type=float, default=10)
    parser.add_argument("--lot", type=Path, help="a DATA_DIR to copy instead of making the demo lot")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--exclude-checks", default="", help="checks left out, by comma")
    parser.add_argument("--only", default="", help="addresses that match this pattern alone")
    parser.add_argument("--max-failures", type=int, default=0)
    return parser.parse_args()


def make_lot(folder: Path, *, of: Path | None) -> None:
    if of is None:
        subprocess.run([sys.executable, "manage.py", "demo", "--no-serve"], cwd=ROOT, check=True)
    else:
        shutil.copytree(of, folder, dirs_exist_ok=True)


def known(*, role: str) -> dict[str, Any]:
    """A token, and what stands in the lot: for the addresses and for the bodies."""
    owner = apps.get_model("inventory", "User").objects.filter(role=Role.OWNER).first().as_actor()
    rows = {name: apps.get_model("inventory", name).objects.order_by("pk") for name in {*INNER.values()}}
    stays = dict(apps.get_model("inventory", "Consignment").objects.values_list("pk", "stock_number"))
    return {
        "token": staffing.make_token("fuzz", role=Role(role), by=owner, at=timezone.now())[1],
        "stock": list(stays.values()),
        "vehicle": [str(row.code) for row in apps.get_model("inventory", "Vehicle").objects.all()],
        "consignor": [str(row.code) for row in apps.get_model("inventory", "Consignor").objects.all()],
        "receipt": {
            str(row.code): stays[row.consignment_id]
            for row in apps.get_model("inventory", "ArrivalReceipt").objects.all()
        },
        **{name: {str(row.pk): stays[stay_of(row)] for row in rows[model]} for name, model in INNER.items()},
    }


def stay_of(row: Any) -> int:
    return int(row.consignment_id if hasattr(row, "consignment_id") else row.deal.consignment_id)


def configuration(lot: dict[str, Any]) -> str:
    """Dictionaries of what is there, nine times in ten; the tenth is whatever the generator likes."""
    values = {name: lot[name] for name in ("stock", "vehicle", "consignor") if lot[name]}
    values |= {name: [int(key) for key in lot[name]] for name in INNER if lot[name]}
    if lot["receipt"]:
        values["receipt"] = list(lot["receipt"])
    bound = {"path.stock_number": "stock", "query.consignor": "consignor"} | {f"path.{name}": name for name in INNER}
    bound |= {"body.vehicle": "vehicle", "body.consignor": "consignor"}
    lines = [f"[auth.openapi.token]\nbearer = {json.dumps(lot['token'])}"]
    lines += [f"[dictionaries.{name}]\nvalues = {json.dumps(listed)}" for name, listed in values.items()]
    lines.append("[parameters]")
    lines += [
        f'"{key}" = {{ dictionary = "{name}", probability = 0.9 }}' for key, name in bound.items() if name in values
    ]
    for path, name in (("/vehicles/{code}/", "vehicle"), ("/consignors/{code}/", "consignor"), ("/file/", "receipt")):
        if name in values:
            lines += [
                "[[operations]]", f'include-path-regex = "{path.replace("{", "[{]").replace("}", "[}]")}$"',
                f'parameters = {{ "path.code" = {{ dictionary = "{name}", probability = 0.9 }} }}',
            ]  # fmt: skip
    return "\n".join(lines) + "\n"


@contextmanager
def served(folder: Path) -> Iterator[tuple[int, Path]]:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    log = folder / "server.log"
    words = [
        str(TOOLS / "gunicorn"),
        "inventory.wsgi",
        "--bind",
        f"127.0.0.1:{port}",
        "--limit-request-line",
        "0",  # of too long an address gunicorn itself would answer, with a page of its own
        "--threads",
        "2",
        "--timeout",
        "90",
    ]
    with log.open("w") as file:
        server = subprocess.Popen(words, cwd=ROOT, stdout=file, stderr=file)
        try:
            wait_for(port)
            yield port, log
        finally:
            server.terminate()
            try:
                server.wait(60)
            except subprocess.TimeoutExpired:
                server.kill()


def wait_for(port: int) -> None:
    until = time.monotonic() + 60
    while time.monotonic() < until:
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.2)
    raise SystemExit("The server did not start.")


def attack(folder: Path, *, port: int, lot: dict[str, Any], asked: argparse.Namespace) -> int:
    """One run of schemathesis from a copy of the schema as this role fetches it."""
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=300)
    line.request("GET", "/api/schema/?format=json", headers={"Authorization": f"Bearer {lot['token']}"})
    (folder / "schema.json").write_bytes(line.getresponse().read())
    (folder / "schemathesis.toml").write_text(configuration(lot))
    (folder / "known.json").write_text(json.dumps(lot))
    words = [
        str(TOOLS / "schemathesis"), "--config-file", "schemathesis.toml", "run", "schema.json",
        "--url", f"http://127.0.0.1:{port}", "--checks", "all",
        "--phases", "examples,coverage,fuzzing,stateful", "--seed", str(asked.seed), "--continue-on-failure",
        "--max-time", str(int(asked.minutes * 60)), "--warnings", "off", "--suppress-health-check", "all",
        "--request-timeout", "60", "--output-truncate", "true", "--no-color", "--no-shrink",
        "--generation-database", "none",
    ]  # fmt: skip
    words += ["--exclude-checks", ",".join([*LEFT_OUT, *filter(None, asked.exclude_checks.split(","))])]
    words += ["--include-path-regex", asked.only] if asked.only else []
    words += ["--max-failures", str(asked.max_failures)] if asked.max_failures else []
    path = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])
    more = {"SCHEMATHESIS_HOOKS": "tests.bench.api_fuzz_hooks", "FUZZ_FOLDER": str(folder), "PYTHONPATH": path}
    return subprocess.run(words, cwd=folder, env=os.environ | more, check=False).returncode


def told(folder: Path, *, log: Path) -> int:
    """Print what was answered; the number of answers of 500 and above."""
    counted = folder / "counted.json"
    seen = [
        (route, int(status), count)
        for route, status, count in json.loads(counted.read_text() if counted.exists() else "[]")
    ]
    by_status, routes = Counter[int](), {route for route, _, _ in seen}
    for _, status, count in seen:
        by_status[status] += count
    reached = {route for route, status, _ in seen if status < 300}
    print(f"\n{sum(by_status.values()):,} requests: {dict(sorted(by_status.items()))}")
    offered = {
        route for route, status, _ in seen if status != 405 and not route.startswith(("QUERY ", "TRACE ", "OPTIONS "))
    }
    print(f"{len(routes)} methods of addresses, {len(offered)} offered, {len(reached)} worked at least once; never:")
    for route in sorted(offered - reached):
        print("  ", route, {status: count for named, status, count in seen if named == route})
    for route, status, count in seen:
        if status >= 500:
            print("  SERVER ERROR", route, status, count)
    print("server log:", log.read_text()[-3000:] if by_status and max(by_status) >= 500 else "no 5xx")
    return sum(count for status, count in by_status.items() if status >= 500)


def books_hold() -> bool:
    """As `tests/trust_machine.py` asks after each step, here of a lot that was shot at for minutes."""
    report = trust.report(on=timezone.localdate())
    held = [(row, row.buyer_held + row.consignor_held + row.payees_held + row.lot_takes) for row in report.rows]
    print(f"the books: {len(held)} vehicles with money, {report.bank} in the trust account")
    return (
        total(row.bank for row in report.rows) == report.bank
        and all(row.bank == amount - row.to_come - row.lot_pays_in for row, amount in held)
        and all(total(row.standing.values()) == ZERO <= row.bank for row, _ in held)
        and [row.sequence for row in Settlement.objects.order_by("sequence")] == [
            number for number, _ in enumerate(Settlement.objects.all(), start=1)
        ]
    )  # fmt: skip


def main() -> int:
    asked, folder = options(), Path(FOLDER.name)
    make_lot(folder / "lot", of=asked.lot)
    lot = known(role=asked.role)
    began = time.monotonic()
    with served(folder) as (port, log):
        found = attack(folder, port=port, lot=lot, asked=asked)
        crashed = told(folder, log=log)
    held = books_hold()
    print(f"{time.monotonic() - began:,.0f} s; the books {'hold' if held else 'DO NOT HOLD'}")
    return int(bool(found or crashed or not held))


if __name__ == "__main__":
    raise SystemExit(main())
