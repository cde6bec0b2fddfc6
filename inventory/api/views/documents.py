"""The OpenAPI schema and its documentation page, for signed-in staff and programs only."""

from typing import Any

from csp.constants import SELF, UNSAFE_INLINE
from csp.decorators import csp_update
from django.contrib.auth.decorators import login_required
from django.utils.decorators import method_decorator
from django.views.decorators.http import require_safe
from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView
from rest_framework.permissions import IsAuthenticated

from inventory.api.views.base import Guarded
from inventory.rules.roles import Act

OWN_POLICY: Any = {"style-src": [SELF, UNSAFE_INLINE], "img-src": [SELF, "data:"]}


class Schema(Guarded, SpectacularAPIView):
    acts = {"get": Act.SEE_LOT}
    permission_classes = [IsAuthenticated]


@method_decorator([require_safe, login_required, csp_update(OWN_POLICY)], name="dispatch")
class Documentation(Guarded, SpectacularSwaggerSplitView):
    """Served from this machine; the page writes styles of its own, so it alone may have inline ones."""

    acts = {"get": Act.SEE_LOT}
    signs_in = True
    permission_classes = [IsAuthenticated]
    url_name = "api_schema"
