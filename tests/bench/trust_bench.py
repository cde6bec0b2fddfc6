"""A thousand random histories of other people's money, on the database of the test run; by hand:

python -m pytest tests/bench/trust_bench.py -n 0 -s --no-header        (TEST_ON=postgres for PostgreSQL)
"""

import os

import pytest
from django.db import connection
from hypothesis import HealthCheck, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.trust_machine import TrustMachine, done, two_listed


@pytest.mark.django_db
def test_books_equal_the_bank_after_a_thousand_histories() -> None:
    TrustMachine.stays = two_listed()
    done.clear()
    many = settings(
        max_examples=int(os.environ.get("HISTORIES", "1000")), stateful_step_count=25, deadline=None, database=None,
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    run_state_machine_as_test(TrustMachine, settings=many)
    print(f"\n{connection.vendor}: accepted", dict(sorted(done.items())))
