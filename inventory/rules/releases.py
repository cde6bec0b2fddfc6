"""What must hold before vehicle or title leave the lot, and the words for it. Common practice, no source."""

from inventory.errors import Refused
from inventory.rules.words import Collector

CAUTION = (
    "Check the identity of whoever collects it, and the written authority of an agent or carrier. Title, tax and "
    "release rules differ by place: check local law."
)
COLLECTS_SOLD = (Collector.BUYER, Collector.AGENT, Collector.CARRIER)
COLLECTS_WITHDRAWN = (Collector.CONSIGNOR, Collector.AGENT, Collector.CARRIER)


def collectors(*, sold: bool) -> tuple[Collector, ...]:
    """Who takes a vehicle away: a sold one goes to the buyer's side, a withdrawn one to the consignor's."""
    return COLLECTS_SOLD if sold else COLLECTS_WITHDRAWN


def check_collector(collector: str, *, sold: bool) -> Collector:
    allowed = collectors(sold=sold)
    if collector not in allowed:
        state = "sold" if sold else "withdrawn"
        raise Refused(
            "collector_does_not_fit", f"A {state} vehicle does not go to “{_label(collector)}”.", field="collector",
            got=collector, mend=f"Say one of {', '.join(one.label for one in allowed)}.",
        )  # fmt: skip
    return Collector(collector)


def check_authority(collector: Collector, *, note: str) -> None:
    """Whoever comes for somebody else: the receipt says on whose word."""
    if collector in {Collector.AGENT, Collector.CARRIER} and not note.strip():
        raise Refused(
            "authority_missing", f"It is collected by {collector.label}, and nothing says on whose word.",
            field="note", got=collector.value, mend="Write who sent them and how you checked it.",
        )  # fmt: skip


def check_lien_released(*, had_lien: bool, release_in_hand: bool) -> None:
    """The title goes to a buyer only with the lien off it. Which paper shows that differs by place."""
    if had_lien and not release_in_hand:
        raise Refused(
            "lien_not_released", "There was a lien on it, and no lien release is in hand.", field="title",
            mend="Record the lien release with the day since when it is in hand. Check local law.",
        )  # fmt: skip


def reading_told(mileage: int | None, *, status_told: str) -> str:
    return "no reading taken" if mileage is None else f"{mileage:,} miles. {status_told}"


def _label(collector: str) -> str:
    return Collector(collector).label if collector in Collector.values else collector
