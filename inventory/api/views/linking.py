"""The private link of a consignment is made and revoked."""

from django.urls import reverse
from rest_framework.request import Request
from rest_framework.response import Response

from inventory.actions import linking
from inventory.api.schema import writes
from inventory.api.serializers.base import Nothing
from inventory.api.serializers.linking import LinkShown
from inventory.api.views.base import Answering
from inventory.errors import Refused
from inventory.rules.roles import Act


class Link(Answering):
    acts = {"post": Act.MAKE_LINK, "delete": Act.MAKE_LINK}

    @writes(Nothing, LinkShown, once=False)
    def post(self, request: Request, stock_number: str) -> Response:
        """Make the one live link; the address is shown only now, and one that was live before is revoked."""
        self.given(Nothing)
        if "Idempotency-Key" in request.headers:
            raise Refused(
                "key_unusable", "The answer holds a secret and is never kept.", field="Idempotency-Key",
                mend="Send it without the key; make a new link if the answer was lost.",
            )  # fmt: skip
        row, token = linking.make_link(self.stay.pk, by=self.by, at=self.at)
        url = request.build_absolute_uri(reverse("open_link", kwargs={"token": token}))
        return Response(LinkShown({"url": url, "expires_at": row.expires_at}).data, status=201)

    @writes(None, None, status=204, once=False)
    def delete(self, request: Request, stock_number: str) -> Response:
        """Revoke the live link."""
        linking.revoke_link(self.stay.pk, by=self.by, at=self.at)
        return Response(status=204)
