"""One process of a race: `python -m tests.races.seller WAY [STOCK_NUMBER NAME FOLDER]`.

It says that it is ready, waits until the other one is, and then marks the vehicle sold. `prepare COUNT` makes the
tables of a lot, where there are none, and that many vehicles.
"""

import os
import sys
import time
from decimal import Decimal
from pathlib import Path

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "inventory.settings")
django.setup()

from django.apps import apps
from django.conf import settings
from django.core.management import call_command
from django.db import connection
from django.utils import timezone

from inventory.actions import selling
from inventory.errors import Refused
from inventory.models import Consignment, SaleOutcome
from inventory.rules.roles import Actor, ActorKind, Role
from tests import build

RACERS = 2


def meet(folder: Path, *, name: str, stage: str) -> None:
    """Wait until every racer has come to this stage."""
    (folder / f"{stage}-{name}").touch()
    deadline = time.monotonic() + 30
    while len(list(folder.glob(f"{stage}-*"))) < RACERS:
        if time.monotonic() > deadline:
            sys.exit("the other racer never came")
        time.sleep(0.001)


def careful(stock_number: str, *, name: str, folder: Path) -> str:
    """The house's own way: lock first, read after."""
    pk = Consignment.objects.values_list("pk", flat=True).get(stock_number=stock_number)
    actor = Actor(kind=ActorKind.STAFF, role=Role.SALES, name=name, id=None)
    bargain = selling.Bargain(price=Decimal("48500.00"), buyer=f"buyer of {name}")
    meet(folder, name=name, stage="go")
    try:
        selling.mark_sold(pk, bargain=bargain, by=actor, at=timezone.now())
    except Refused as problem:
        return f"refused: {problem}"
    return "sold"


def naive(stock_number: str, *, name: str, folder: Path) -> str:
    """What the house does not do: read, decide, write. Here to show that the race is real."""
    row = Consignment.objects.get(stock_number=stock_number)
    meet(folder, name=name, stage="read")
    if row.state != "listed":
        return "refused"
    Consignment.objects.filter(pk=row.pk).update(state_by=name)
    return "sold"


def prepare(count: int) -> None:
    """The tables are made of the models, as they are for other tests: the way through the migrations has a test."""
    settings.MIGRATION_MODULES = {app.label: None for app in apps.get_app_configs()}
    call_command("migrate", verbosity=0, run_syncdb=True)
    for _ in range(count):
        print(build.consignment(build.State.LISTED, at=timezone.now()).stock_number)


if __name__ == "__main__":
    if sys.argv[1] == "prepare":
        prepare(int(sys.argv[2]))
    elif sys.argv[1] == "count":
        print(*SaleOutcome.objects.order_by("stock_number").values_list("stock_number", flat=True))
    else:
        way = {"careful": careful, "naive": naive}[sys.argv[1]]
        connection.ensure_connection()
        print(way(sys.argv[2], name=sys.argv[3], folder=Path(sys.argv[4])))
