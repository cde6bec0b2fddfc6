"""All addresses: the screens and the API."""

from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [
    path("api/", include("inventory.api.urls")),
    path("", include("inventory.pages.urls")),
]
