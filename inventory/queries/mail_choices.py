"""What mail a consignor wants."""

from inventory.models import Consignor, MailChoice
from inventory.rules.words import MessageKind

ALWAYS_SENT = frozenset({MessageKind.CONSENT})  # without an answer to these nothing goes on


def unwanted(consignor: Consignor) -> frozenset[str]:
    """The kinds that are off; the latest choice of each counts, and without one it is on."""
    latest = dict(MailChoice.objects.filter(consignor=consignor).order_by("pk").values_list("kind", "wanted"))
    return frozenset(kind for kind, wanted in latest.items() if not wanted) - ALWAYS_SENT
