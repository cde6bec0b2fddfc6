"""The framework alone: one view that answers JSON, no middleware, no database. What a ratio of the load is told by."""

from typing import Any

from django.conf import settings

settings.configure(
    ROOT_URLCONF=__name__, ALLOWED_HOSTS=["*"], SECRET_KEY="x" * 50, USE_TZ=True, MIDDLEWARE=[], LOGGING_CONFIG=None
)

from django.core.wsgi import get_wsgi_application
from django.http import HttpRequest, JsonResponse
from django.urls import path


def bare(request: HttpRequest) -> JsonResponse:
    return JsonResponse({"listed": 34})


urlpatterns = [path("bare.json", bare)]
application: Any = get_wsgi_application()
