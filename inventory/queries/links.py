"""Private links: which opens what, and until when."""

import uuid
from datetime import date, datetime

from django.utils import timezone

from inventory.errors import NotFound
from inventory.models import Consignment, Disbursement, StatusLink
from inventory.queries import facts
from inventory.queries.people import digest_of
from inventory.rules.links import opens_for
from inventory.rules.states import State

OVER = frozenset({State.SETTLED, State.RELEASED})
OWED = frozenset({State.SOLD, State.WITHDRAWN})


def live_link(token: str, *, code: uuid.UUID | None = None, at: datetime) -> StatusLink:
    """The link of a token, if it opens something now; with `code`, if it opens this stay.

    Whatever is wrong, the answer is the same.
    """
    rows = StatusLink.objects.select_related("consignment__vehicle", "consignment__consignor")
    row = rows.filter(digest=digest_of(token), revoked_at__isnull=True).first()
    if row is None or (code is not None and row.consignment.code != code) or at >= ends_at(row, at=at):
        raise NotFound("not_found", "This link is not valid, or not any more.", mend="Ask the lot for a new one.")
    return row


def link_of(stay: Consignment) -> StatusLink | None:
    """The link that was not revoked; it may have run out. Its end is told as things stand now."""
    row = StatusLink.objects.filter(consignment=stay, revoked_at__isnull=True).first()
    if row is not None:
        row.expires_at = ends_at(row, at=timezone.now())  # never saved: what is stored is the end foreseen when made
    return row


def ends_at(link: StatusLink, *, at: datetime) -> datetime:
    """The moment from which the link opens nothing, by the agreement and the stay as they are now."""
    stay, terms = link.consignment, facts.terms_of(link.consignment)
    lasts = opens_for(
        made_on=timezone.localdate(link.made_at),
        agreement_ends_on=terms.ends_on if terms else None,
        closed_on=_closed_on(stay) if stay.state in OVER else None,
        is_owed=stay.state in OWED,
        today=timezone.localdate(at),
    )
    return link.made_at + lasts


def _closed_on(stay: Consignment) -> date | None:
    """The last of what ended it: the statement, what was paid on it, the vehicle handed over."""
    settlement = facts.settlement_of(stay)
    paid = Disbursement.objects.filter(settlement__consignment=stay).order_by("-on").first()
    days = [settlement.on if settlement else None, paid.on if paid else None, stay.released_on]
    return max((day for day in days if day is not None), default=None)
