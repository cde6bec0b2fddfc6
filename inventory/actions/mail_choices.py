"""What mail a consignor wants: chosen on the status page, one kind at a time."""

from collections.abc import Collection
from datetime import datetime

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import add, locked
from inventory.errors import NotAllowed, Refused
from inventory.models import MailChoice, StatusLink
from inventory.queries.mail_choices import ALWAYS_SENT, unwanted
from inventory.rules.roles import Act, Actor, require
from inventory.rules.words import MessageKind


@transaction.atomic
def choose(*, link: StatusLink, kind: str, wanted: bool, by: Actor, at: datetime) -> MailChoice | None:
    """Turn one kind of mail on or off. None where it is so already."""
    require(by, Act.CHOOSE_MAIL)
    if by.consignment_id != link.consignment_id:
        raise NotAllowed("not_allowed", "This link is of another vehicle.", got=by.consignment_id)
    if kind not in MessageKind.values:
        raise Refused("kind_unknown", f"There is no mail called “{kind}”.", field="wanted", got=kind,
                      mend="Choose from the list.")  # fmt: skip
    if kind in ALWAYS_SENT and not wanted:
        raise Refused("always_sent", "Questions that need your agreement are always sent.", field="wanted", got=kind,
                      mend="Leave it on.")  # fmt: skip
    stay = locked(link.consignment_id)
    if (kind not in unwanted(stay.consignor)) == wanted:
        return None
    row = add(MailChoice(consignor=stay.consignor, kind=kind, wanted=wanted, by=by.name, at=at))
    logbook.record(
        "mail.chosen", row, by=by, at=at, consignment=stay, kind=row.get_kind_display(), way="on" if wanted else "off"
    )
    return row


@transaction.atomic
def choose_all(*, link: StatusLink, wanted: Collection[str], by: Actor, at: datetime) -> None:
    """Every kind that may be chosen is on if it is among `wanted`, else off."""
    for kind in MessageKind:
        if kind not in ALWAYS_SENT:
            choose(link=link, kind=kind, wanted=kind in wanted, by=by, at=at)
