"""How long each list page and each list of the API takes on the server, as the owner. Run by hand on a large lot:

    DATABASE_URL=postgresql://… python -m tests.bench.page_times [--only PART] [--explain MS]

Each is asked once to warm up and then some times. Told are the median, the least (other work beside it only adds),
the processor's time of this process, and what the statements took of the least. The requests go through the whole of
Django, without a socket. `--explain` shows the plans of statements that took as long.
"""

import argparse
import os
from dataclasses import dataclass, field
from statistics import median
from time import perf_counter, process_time
from typing import Any

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "inventory.settings")

import django

django.setup()

from django.conf import settings
from django.db import connection
from django.test import Client

from inventory.models import Consignment, Consignor, Contact, LogEntry, User
from inventory.rules.states import State

LIMIT_MS = 300
PAGES = (
    "/", "/?gone=on", "/?q=Merrow", "/past-sales/", "/past-sales/?q=Merrow+1968", "/past-sales/?q=nosuch",
    "/people/", "/people/?q=Fenwick", "/people/?kind=contact", "/elsewhere/", "/messages/", "/messages/?status=sent",
    "/for-sale/", "/for-sale/feed.json", "/stock/", "/track-record/", "/trust/", "/pay/", "/floor/", "/floor/care/",
    "/floor/work-orders/", "/floor/incidents/", "/floor/inquiries/", "/floor/shown/", "/own-stock/", "/prospects/",
    "/staff/", "/policy/", "/decoder/", "/vehicles/new/", "/prospects/new/", "/?q=nosuch", "/?q=nosuch&gone=on",
    "/people/?q=nosuch", "/people/?doubles=on", "/elsewhere/?q=nosuch", "/stock/?q=nosuch",
)  # fmt: skip
LISTS = (
    "consignments/", "consignments/?q=Fenwick", "consignments/?ordering=-ask", "consignments/?ordering=make,-year",
    "consignments/?state=listed", "vehicles/", "vehicles/?ordering=make,-year", "consignors/",
    "consignors/?ordering=name", "outcomes/", "outcomes/?make=merrow&model=alder", "outcomes/?ordering=make,-year",
    "outcomes/?ordering=-price", "outcomes/?ordering=-ended_on", "outcomes/?stock_number=h00100",
    "outcomes/?ended_from=2026-01-01", "trust/", "trust/balances/", "fits/", "decoder/", "policy/",
)  # fmt: skip
OF_STAY = (
    "", "price/", "sale/", "settlement/", "terms/", "inspection/", "link/", "listing/", "work-orders/", "what-if/",
)  # fmt: skip
API_OF_STAY = ("", "log/", "checks/", "photos/", "offers/", "asks/", "inquiries/", "ledger/", "flags/", "price/",
               "comparison/", "ask-curve/")  # fmt: skip


def addresses() -> list[str]:
    listed = Consignment.objects.filter(state=State.LISTED).order_by("pk")[:1].get().stock_number
    gone = Consignment.objects.filter(state=State.RELEASED).order_by("pk")[:1].get().stock_number
    link = Consignment.objects.filter(state=State.LISTED).order_by("pk")[:1].get().code
    person, contact = Consignor.objects.order_by("pk")[:1].get(), Contact.objects.order_by("pk")[:1].get()
    return [
        *PAGES, *(f"/api/v1/{name}" for name in LISTS),
        *(f"/vehicles/{number}/{name}" for number in (listed, gone) for name in OF_STAY),
        *(f"/api/v1/consignments/{number}/{name}" for number in (listed, gone) for name in API_OF_STAY),
        f"/for-sale/{link}/", f"/people/consignors/{person.code}/", f"/people/contacts/{contact.code}/",
    ]  # fmt: skip


@dataclass
class Watch:
    """The statements of one request, each with its time."""

    said: list[tuple[float, str, Any]] = field(default_factory=list)

    def __call__(self, execute: Any, sql: str, params: Any, many: bool, context: dict[str, Any]) -> Any:
        began = perf_counter()
        try:
            return execute(sql, params, many, context)
        finally:
            self.said.append((1000 * (perf_counter() - began), sql, params))


@dataclass(frozen=True)
class Took:
    """Milliseconds of one asking."""

    whole: float
    processor: float
    watch: Watch


def took(client: Client, *, address: str, times: int) -> tuple[int, list[Took]]:
    """The status, and each time but the first, the quickest first."""
    status, found = client.get(address).status_code, []
    for _ in range(times):
        watch = Watch()
        with connection.execute_wrapper(watch):
            began, worked = perf_counter(), process_time()
            client.get(address)
            found.append(Took(1000 * (perf_counter() - began), 1000 * (process_time() - worked), watch))
    return status, sorted(found, key=lambda one: one.whole)


def told(found: list[Took]) -> str:
    least, middle = found[0], median(one.whole for one in found)
    processor = median(one.processor for one in found)
    said = sum(ms for ms, _, _ in least.watch.said)
    return (
        f"{len(least.watch.said):>5} statements{middle:>8.0f} ms, least {least.whole:.0f}, processor {processor:.0f}, "
        f"statements {said:.0f}{'  OVER' if least.whole > LIMIT_MS else ''}"
    )


def explain(watch: Watch, *, least_ms: float) -> None:
    for ms, sql, params in watch.said:
        if ms >= least_ms:
            print(f"    {ms:.0f} ms  {sql[:1200]}")
            if connection.vendor == "postgresql" and sql.startswith("SELECT"):
                with connection.cursor() as cursor:
                    cursor.execute("EXPLAIN (ANALYZE, BUFFERS) " + sql, params)
                    print("\n".join(f"        {line}" for (line,) in cursor.fetchall()))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", default="", help="addresses with this in them")
    parser.add_argument("--explain", type=float, default=0.0, help="milliseconds")
    parser.add_argument("--times", type=int, default=7)
    asked = parser.parse_args()
    settings.ALLOWED_HOSTS, settings.SECURE_SSL_REDIRECT = ["*"], False
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
    client = Client()
    client.force_login(User.objects.get(username="owner"), backend="django.contrib.auth.backends.ModelBackend")
    print(f"{connection.vendor}, {LogEntry.objects.count():,} log entries")
    for address in addresses():
        if asked.only in address:
            status, found = took(client, address=address, times=asked.times)
            print(f"{address:<62}{status:>4}{told(found)}", flush=True)
            if asked.explain:
                explain(found[0].watch, least_ms=asked.explain)


if __name__ == "__main__":
    main()
