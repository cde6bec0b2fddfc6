"""Private links: made, used, revoked. Only a digest of the token is kept."""

import secrets
from datetime import datetime, timedelta

from django.db import transaction

from inventory.actions import logbook
from inventory.actions.writing import add, locked, trade_day
from inventory.errors import NotFound
from inventory.models import StatusLink
from inventory.queries import facts
from inventory.queries.people import digest_of
from inventory.rules.roles import Act, Actor, ActorKind, Role, require

GRACE_DAYS = 60  # after the agreement's end; common practice, no source
TOKEN_BYTES = 32  # 256 bits; OWASP ASVS 5.0, 7.2.3 asks for at least 128


@transaction.atomic
def make_link(consignment_id: int, *, by: Actor, at: datetime) -> tuple[StatusLink, str]:
    """Make the one live link of a consignment and return it with its token, which is shown only now.

    A link that was live before is revoked.
    """
    require(by, Act.MAKE_LINK)
    stay = locked(consignment_id)
    _revoke_live(stay.pk, by=by, at=at)
    token = secrets.token_urlsafe(TOKEN_BYTES)
    terms = facts.terms_of(stay)
    ends = max(terms.ends_on, trade_day(at)) if terms else trade_day(at)
    days = (ends - trade_day(at)).days + GRACE_DAYS
    row = add(
        StatusLink(
            consignment=stay, digest=digest_of(token), prefix=token[:6], made_by=by.name, made_at=at,
            expires_at=at + timedelta(days=days),
        )
    )  # fmt: skip
    logbook.record("link.made", row, by=by, at=at, consignment=stay)
    return row, token


@transaction.atomic
def revoke_link(consignment_id: int, *, by: Actor, at: datetime) -> None:
    require(by, Act.MAKE_LINK)
    stay = locked(consignment_id)
    if not _revoke_live(stay.pk, by=by, at=at):
        raise NotFound("not_found", f"{stay.stock_number} has no live private link.", field="link")


@transaction.atomic
def use_link(token: str, *, at: datetime) -> StatusLink:
    """The live link of a token. Unknown, expired and revoked tokens get the same answer."""
    row = (
        StatusLink.objects.select_for_update(of=("self",))
        .select_related("consignment")
        .filter(digest=digest_of(token), revoked_at__isnull=True, expires_at__gt=at)
        .first()
    )
    if row is None:
        raise NotFound("not_found", "This link is not valid, or not any more.", mend="Ask the lot for a new one.")
    first_today = row.last_used_at is None or row.last_used_at.date() != at.date()
    row.last_used_at = at
    row.save(update_fields=["last_used_at"])
    if first_today:
        logbook.record("link.used", row, by=actor_of(row), at=at, consignment=row.consignment)
    return row


def actor_of(link: StatusLink) -> Actor:
    return Actor(
        kind=ActorKind.LINK, role=Role.CONSIGNOR, name="consignor's link", id=link.pk,
        consignment_id=link.consignment_id,
    )  # fmt: skip


def _revoke_live(consignment_id: int, *, by: Actor, at: datetime) -> bool:
    row = StatusLink.objects.select_for_update().filter(consignment_id=consignment_id, revoked_at__isnull=True).first()
    if row is None:
        return False
    row.revoked_at = at
    row.save(update_fields=["revoked_at"])
    logbook.record("link.revoked", row, by=by, at=at, consignment=row.consignment)
    return True
