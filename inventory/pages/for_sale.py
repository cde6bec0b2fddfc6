"""What anybody may read without signing in: vehicles for sale, each with its description, and the same as open data."""

import uuid
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.views.decorators.http import require_safe

from inventory.errors import NotFound
from inventory.pages import serving
from inventory.pages.access import open_page
from inventory.queries import for_sale as queries
from inventory.queries.for_sale import ForSale
from inventory.queries.for_sale_file import for_sale_csv
from inventory.rules.listing_open_data import Offered, open_data
from inventory.rules.listing_open_data import feed as feed_of

View = Callable[..., HttpResponseBase]


def public(view: View) -> View:
    """Asked for anew each time: what was sold or withdrawn is gone at once, from caches too."""

    @open_page("what is for sale is shown to all")
    @wraps(view)
    def guarded(request: HttpRequest, **kwargs: Any) -> HttpResponseBase:
        try:
            response = view(request, **kwargs)
        except NotFound as problem:
            raise Http404(str(problem)) from problem
        patch_cache_control(response, no_cache=True)
        return response

    return guarded


@require_safe
@public
def for_sale_list(request: HttpRequest) -> HttpResponse:
    page = queries.for_sale_page(request.GET.get("page", "1"))
    return render(request, "inventory/for_sale/list.html", {"page": page})


@require_safe
@public
def for_sale(request: HttpRequest, code: uuid.UUID) -> HttpResponse:
    page = queries.for_sale(code, today=timezone.localdate())
    shown = {"page": page, "data": open_data(_as_data(page))}
    return render(request, "inventory/for_sale/page.html", shown)


@require_safe
@public
def photo(request: HttpRequest, code: uuid.UUID, photo: uuid.UUID) -> HttpResponseBase:
    return serving.picture(queries.photo_for_sale(code, photo=photo).file)


@require_safe
@public
def small_photo(request: HttpRequest, code: uuid.UUID, photo: uuid.UUID) -> HttpResponseBase:
    return serving.picture(queries.photo_for_sale(code, photo=photo).small)


@require_safe
@public
def feed_json(request: HttpRequest) -> HttpResponse:
    offers = [_as_data(page) for page in queries.all_for_sale(today=timezone.localdate())]
    said = feed_of(offers, url=_whole("for_sale_feed_json"))
    return JsonResponse(said, content_type="application/ld+json", json_dumps_params={"ensure_ascii": False})


@require_safe
@public
def feed_csv(request: HttpRequest) -> HttpResponse:
    pages = queries.all_for_sale(today=timezone.localdate())
    text = for_sale_csv((page, _whole("for_sale", page.code)) for page in pages)
    answer = HttpResponse(text, content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = 'inline; filename="for-sale.csv"'
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


def _as_data(page: ForSale) -> Offered:
    images = [_whole("for_sale_photo", page.code, shot.code) for shot in page.photos]
    return queries.offered_as_data(page, url=_whole("for_sale", page.code), images=images)


def _whole(name: str, *args: Any) -> str:
    """An address as others reach it."""
    return f"{settings.PUBLIC_URL}{reverse(name, args=args)}"
