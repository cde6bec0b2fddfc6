"""The OpenAPI schema and its documentation page, for signed-in staff and programs only."""

from typing import Any

from csp.constants import SELF, UNSAFE_INLINE
from csp.decorators import csp_update
from django.contrib.auth.decorators import login_required
from django.utils.decorators import method_decorator
from drf_spectacular.views import SpectacularAPIView, SpectacularSwaggerSplitView
from rest_framework.permissions import IsAuthenticated

OWN_POLICY: Any = {"style-src": [SELF, UNSAFE_INLINE], "img-src": [SELF, "data:"]}


class Schema(SpectacularAPIView):
    permission_classes = [IsAuthenticated]


@method_decorator([login_required, csp_update(OWN_POLICY)], name="dispatch")
class Documentation(SpectacularSwaggerSplitView):
    """Served from this machine; the page writes styles of its own, so it alone may have inline ones."""

    permission_classes = [IsAuthenticated]
    url_name = "api_schema"
