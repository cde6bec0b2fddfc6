"""Opening the pricing desk and the stock screen of the demo, beside a bare JSON answer of the same run. Run by hand:

DATA_DIR=/some/folder python manage.py demo --no-serve && DATA_DIR=/some/folder python -m tests.bench.desk_bench
"""

import os
import statistics
from collections.abc import Callable
from time import process_time

import django

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "inventory.settings")
django.setup()

from django.conf import settings  # noqa: E402  # the settings come first
from django.http import HttpRequest, JsonResponse  # noqa: E402
from django.test import Client  # noqa: E402
from django.urls import path  # noqa: E402

from inventory.models import User  # noqa: E402
from inventory.urls import urlpatterns as pages  # noqa: E402

TIMES = 9
STOCK = ("26-0009", "26-0012", "26-0015")


def bare(request: HttpRequest) -> JsonResponse:
    return JsonResponse({"users": User.objects.count()})


urlpatterns = [*pages, path("bare.json", bare)]


def took(deed: Callable[[], object]) -> float:
    """Milliseconds of processor time, the median of some times."""
    deed()
    times = []
    for _ in range(TIMES):
        begun = process_time()
        deed()
        times.append(1000 * (process_time() - begun))
    return statistics.median(times)


def opened(client: Client, address: str) -> None:
    answer = client.get(address)
    if answer.status_code != 200:
        raise SystemExit(f"{address} answers {answer.status_code}: load the demo first.")


if __name__ == "__main__":
    settings.ROOT_URLCONF = "tests.bench.desk_bench"
    settings.ALLOWED_HOSTS = ["testserver"]
    client = Client()
    client.force_login(User.objects.get(username="owner"))
    plain = took(lambda: opened(client, "/bare.json"))
    print(f"bare JSON view {plain:.2f} ms")
    for address in (*(f"/vehicles/{number}/price/" for number in STOCK), "/stock/", "/"):
        page = took(lambda address=address: opened(client, address))  # type: ignore[misc]
        print(f"{address:28} {page:6.0f} ms, {page / plain:5.0f} times the bare view")
