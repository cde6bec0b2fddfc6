"""The drift of the market as it leaves the library."""

from inventory.bridge import drift_of


def test_no_day_has_no_drift() -> None:
    assert drift_of({}, days=[]) == []
