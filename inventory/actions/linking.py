"""Private links: made, used, revoked.

Of a token only a digest and a random seed are kept. The server's key and the seed make the token again, so that a mail
can hold the link; whoever reads the database alone cannot.
"""

import base64
import hmac
import secrets
from datetime import datetime, timedelta

from django.db import transaction
from django.utils.crypto import salted_hmac

from inventory.actions import entries
from inventory.actions.writing import add, locked, trade_day
from inventory.errors import NotFound
from inventory.models import StatusLink
from inventory.queries import facts
from inventory.queries.links import ends_at, live_link
from inventory.queries.people import digest_of
from inventory.rules.links import GRACE_DAYS
from inventory.rules.roles import Act, Actor, ActorKind, Role, require

SEED_BYTES = 32  # 256 bits; OWASP ASVS 5.0, 7.2.3 asks for at least 128
_SALT = "inventory.actions.linking.token"


@transaction.atomic
def make_link(consignment_id: int, *, by: Actor, at: datetime) -> tuple[StatusLink, str]:
    """Make the one live link of a consignment and return it with its token, which is shown only now.

    A link that was live before is revoked.
    """
    require(by, Act.MAKE_LINK)
    stay = locked(consignment_id)
    _revoke_live(stay.pk, by=by, at=at)
    seed = secrets.token_hex(SEED_BYTES)
    token = _token_from(seed)
    terms = facts.terms_of(stay)
    ends = max(terms.ends_on, trade_day(at)) if terms else trade_day(at)
    days = (ends - trade_day(at)).days + GRACE_DAYS
    row = add(
        StatusLink(
            consignment=stay, digest=digest_of(token), seed=seed, prefix=token[:6], made_by=by.name, made_at=at,
            expires_at=at + timedelta(days=days),
        )
    )  # fmt: skip
    entries.write("link.made", row, by=by, at=at, consignment=stay, data={})
    return row, token


@transaction.atomic
def token_for_mail(consignment_id: int, *, by: Actor, at: datetime) -> str:
    """The token of the live link, made now if none is live; "" where the live one cannot be worked out again.

    The stay is locked, so that two mails sent at once do not revoke each other's link.
    """
    require(by, Act.MAKE_LINK)
    stay = locked(consignment_id)
    live = StatusLink.objects.filter(consignment=stay, revoked_at__isnull=True).first()
    if live is not None and at < ends_at(live, at=at):
        return token_of(live)
    return make_link(stay.pk, by=by, at=at)[1]


def token_of(link: StatusLink) -> str:
    """The token again; "" for a link without a seed, or when the server's key was changed since."""
    token = _token_from(link.seed) if link.seed else ""
    return token if hmac.compare_digest(digest_of(token), link.digest) else ""


def _token_from(seed: str) -> str:
    digest = salted_hmac(_SALT, seed, algorithm="sha256").digest()
    return base64.urlsafe_b64encode(digest).rstrip(b"=").decode()


@transaction.atomic
def revoke_link(consignment_id: int, *, by: Actor, at: datetime) -> None:
    require(by, Act.MAKE_LINK)
    stay = locked(consignment_id)
    if not _revoke_live(stay.pk, by=by, at=at):
        raise NotFound("not_found", f"{stay.stock_number} has no live private link.", field="link")


@transaction.atomic
def use_link(token: str, *, at: datetime) -> StatusLink:
    """The live link of a token. Unknown, expired and revoked tokens get the same answer."""
    StatusLink.objects.select_for_update(of=("self",)).filter(digest=digest_of(token)).first()  # lock, then read
    row = live_link(token, at=at)
    first_today = row.last_used_at is None or trade_day(row.last_used_at) != trade_day(at)
    row.last_used_at = at
    row.save(update_fields=["last_used_at"])
    if first_today:
        entries.write("link.used", row, by=actor_of(row), at=at, consignment=row.consignment, data={})
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
    entries.write("link.revoked", row, by=by, at=at, consignment=row.consignment, data={})
    return True
