"""Each case plays one kind of fault on a house and tells what is left, a row for each fault."""

from collections.abc import Callable, Iterator

from tests.bench.faults.cases import clock, disk, kill, outage, race, worker
from tests.bench.faults.house import House, Row

CASES: dict[str, Callable[[House], Iterator[Row]]] = {
    "kill": kill.server_in_a_sale,
    "settle": kill.server_in_a_settlement,
    "worker": worker.worker_at_work,
    "backup": worker.backup,
    "outage": outage.database_gone,
    "disk": disk.disk_full,
    "clock": clock.set_back,
    "race": race.two_at_once,
}
