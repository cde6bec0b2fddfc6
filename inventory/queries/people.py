"""Staff, tokens and consignors, as the screens and the API read them."""

import hashlib
from datetime import date

from django.db.models import Count, QuerySet

from inventory.models import ApiToken, Consignor, User


def digest_of(secret: str) -> str:
    """What is kept of a random secret. It has 256 bits of its own, so a plain hash is enough."""
    return hashlib.sha256(secret.encode()).hexdigest()


def live_token(token: str, *, today: date) -> ApiToken | None:
    """The token, unless it was revoked or its last day is over."""
    row = ApiToken.objects.filter(digest=digest_of(token), revoked_at__isnull=True).first()
    return None if row is None or (row.expires_on is not None and row.expires_on < today) else row


def staff() -> QuerySet[User]:
    return User.objects.order_by("-is_active", "full_name", "username")


def tokens() -> QuerySet[ApiToken]:
    return ApiToken.objects.select_related("made_by").order_by("revoked_at", "-made_at")


def consignors() -> QuerySet[Consignor]:
    """Without those that go on under another row, and those that were erased."""
    rows = Consignor.objects.filter(merged_into__isnull=True, erased_at__isnull=True)
    return rows.annotate(vehicles=Count("consignments")).order_by("name", "pk")
