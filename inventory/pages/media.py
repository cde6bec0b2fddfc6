"""Photos and clips, served to whoever may see them; and the form that hides one."""

import uuid
from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.views.decorators.http import require_http_methods, require_safe

from inventory.actions import filming
from inventory.forms.media import HideForm
from inventory.pages import serving
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import media as queries
from inventory.rules.roles import Act


@require_safe
@staff_page(Act.SEE_LOT)
def photo(request: StaffRequest, code: uuid.UUID) -> HttpResponseBase:
    """Media is served here only, to whoever may see the lot, and kept by nobody on the way."""
    return _to_staff(serving.picture(queries.photo_of(code, by=request.actor).file))


@require_safe
@staff_page(Act.SEE_LOT)
def small_photo(request: StaffRequest, code: uuid.UUID) -> HttpResponseBase:
    return _to_staff(serving.picture(queries.photo_of(code, by=request.actor).small))


def _to_staff(answer: HttpResponseBase) -> HttpResponseBase:
    """A list of thumbnails is opened often: the browser of whoever may see it keeps it for an hour."""
    patch_cache_control(answer, private=True, max_age=3600)
    return answer


@require_safe
@staff_page(Act.SEE_ORIGINALS)
def original_photo(request: StaffRequest, code: uuid.UUID) -> HttpResponseBase:
    """The file as the camera wrote it, with place and device in it."""
    field, name = queries.original_of(code, by=request.actor)
    return serving.attachment(field, name=name)


@require_safe
@staff_page(Act.SEE_LOT)
def clip(request: StaffRequest, code: uuid.UUID) -> HttpResponseBase:
    row = queries.clip_of(code, by=request.actor)
    return serving.clip(request, row.file, size=row.bytes, sha256=row.sha256, content_type=row.content_type)


@require_http_methods(["GET", "POST"])
@staff_page(Act.RECORD_FACTS)
def hide_photo(request: StaffRequest, code: uuid.UUID) -> HttpResponse:
    row = queries.photo_of(code, by=request.actor)
    return _hide(request, row, what="photo", deed=filming.hide_photo)


@require_http_methods(["GET", "POST"])
@staff_page(Act.RECORD_FACTS)
def hide_clip(request: StaffRequest, code: uuid.UUID) -> HttpResponse:
    row = queries.clip_of(code, by=request.actor)
    return _hide(request, row, what="clip", deed=filming.hide_clip)


def _hide(request: StaffRequest, row: Any, *, what: str, deed: Callable[..., object]) -> HttpResponse:
    form = HideForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        reason = form.cleaned_data["reason"]
        if attempt(form, lambda: deed(row.code, reason=reason, by=request.actor, at=timezone.now())) is not None:
            messages.success(request, f"The {what} is hidden.")
            return redirect("vehicle_file", row.consignment.stock_number)
    shown = {"stay": row.consignment, "row": row, "what": what, "form": form}
    return render(request, "inventory/vehicle_file/hide.html", shown, status=422 if form.errors else 200)
