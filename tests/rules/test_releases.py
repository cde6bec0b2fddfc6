"""Who may take a vehicle away, and on whose word."""

import pytest

from inventory.errors import Refused
from inventory.rules import releases
from inventory.rules.words import Collector


@pytest.mark.parametrize(("collector", "sold"), [("consignor", True), ("buyer", False), ("nobody", True), ("", False)])
def test_vehicle_does_not_go_to_the_other_side(collector: str, sold: bool) -> None:
    with pytest.raises(Refused) as refusal:
        releases.check_collector(collector, sold=sold)
    assert (refusal.value.code, refusal.value.field) == ("collector_does_not_fit", "collector")
    assert refusal.value.mend


def test_agent_and_carrier_come_on_somebody_s_word() -> None:
    for collector in (Collector.AGENT, Collector.CARRIER):
        assert releases.check_collector(collector.value, sold=True) == collector
        with pytest.raises(Refused) as refusal:
            releases.check_authority(collector, note=" ")
        assert refusal.value.field == "note"
        releases.check_authority(collector, note="letter of the buyer seen")
    releases.check_authority(Collector.BUYER, note="")


def test_reading_is_told_with_what_it_is_worth() -> None:
    assert releases.reading_told(61240, status_told="No status.") == "61,240 miles. No status."
    assert releases.reading_told(None, status_told="No status.") == "no reading taken"


def test_title_waits_for_the_lien_to_be_released() -> None:
    with pytest.raises(Refused) as refusal:
        releases.check_lien_released(had_lien=True, release_in_hand=False)
    assert refusal.value.code == "lien_not_released"
    releases.check_lien_released(had_lien=True, release_in_hand=True)
    releases.check_lien_released(had_lien=False, release_in_hand=False)
