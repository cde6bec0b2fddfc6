"""The headers that no page has to think of (OWASP ASVS 5.0, chapter 3.4). What a page sets itself stands."""

from collections.abc import Callable

from django.http import HttpRequest
from django.http.response import HttpResponseBase

from inventory import logs

# Photos come from file fields, which ask the person and not the page: nothing of the device is used by a script.
NOT_USED = (
    "accelerometer", "autoplay", "browsing-topics", "camera", "display-capture", "encrypted-media",
    "geolocation", "gyroscope", "hid", "idle-detection", "local-fonts", "magnetometer", "microphone", "midi", "payment",
    "publickey-credentials-get", "screen-wake-lock", "serial", "storage-access", "usb", "window-management",
    "xr-spatial-tracking",
)  # fmt: skip
ALWAYS = {
    "Permissions-Policy": ", ".join(f"{name}=()" for name in NOT_USED),
    "X-Permitted-Cross-Domain-Policies": "none",
}
# Asked for anew each time, kept by no cache on the way. Not no-store: with it a browser forgets what was typed into a
# form when somebody goes back after an error. Pages of papers and money set no-store themselves.
PRIVATE = {
    "Cache-Control": "private, no-cache",
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Robots-Tag": "noindex, nofollow",
}
PUBLIC = {"Cross-Origin-Resource-Policy": "cross-origin"}  # what is for sale may be found and shown elsewhere


class Headers:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        for name, value in headers_for(logs.route_of(request), status=response.status_code).items():
            response.headers.setdefault(name, value)
        return response


def headers_for(route: str, *, status: int) -> dict[str, str]:
    is_public = route.startswith("for_sale") and status < 400
    headers = ALWAYS | (PUBLIC if is_public else PRIVATE)
    if route.startswith("v1:"):
        headers["Cache-Control"] = "no-store"
    if route == "sign_out":
        # The back button must not show what was seen before. Storage stays: unsent taps of the walk are in it.
        headers["Clear-Site-Data"] = '"cache"'
    return headers
