"""What a page tells once after a deed travels in a cookie; with HTTPS under a name that no other host can set."""

from django.conf import settings
from django.contrib.messages.storage.cookie import CookieStorage
from django.contrib.messages.storage.fallback import FallbackStorage
from django.contrib.messages.storage.session import SessionStorage


class _Cookie(CookieStorage):
    cookie_name = f"{'__Host-' if settings.HTTPS else ''}messages"


class Told(FallbackStorage):
    storage_classes = (_Cookie, SessionStorage)
