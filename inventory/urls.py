"""All addresses: the screens and the API."""

from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [
    path("api/", include("inventory.api.urls")),
    path("", include("inventory.pages.urls")),
]

handler400 = "inventory.failures.bad_request"
handler403 = "inventory.failures.not_allowed"
handler404 = "inventory.failures.not_found"
handler500 = "inventory.failures.server_error"
