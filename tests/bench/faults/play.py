"""The cases on one database: `python -m tests.bench.faults.play VENDOR CASES ROUNDS`. A line of JSON for each row."""

import os
import signal
import sys
from contextlib import ExitStack

from tests.bench.faults.server import Postgres


def main() -> None:
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # so that no process of ours is left behind
    vendor, cases, rounds = sys.argv[1], sys.argv[2].split(","), int(sys.argv[3])
    with ExitStack() as ended:
        postgres = None
        if vendor == "postgres":
            postgres = Postgres()
            ended.callback(postgres.throw_away)
            os.environ["DATABASE_URL"] = postgres.url
        # Django reads the address of the database when it is imported: so the cases come after it.
        from tests.bench.faults import house  # noqa: PLC0415
        from tests.bench.faults.cases import CASES  # noqa: PLC0415

        lot = house.House(vendor=vendor, postgres=postgres, rounds=rounds)
        ended.callback(lot.stop_all)
        lot.prepare()
        for case in cases:
            for row in CASES[case](lot):
                lot.tell(row)


if __name__ == "__main__":
    main()
