"""Files in pieces, for the page's own script: announce, ask how far it is, send a piece, give up.

Each answer says how many bytes are here, so that whoever lost the signal knows where to go on.
"""

import json
import uuid
from collections.abc import Callable
from functools import wraps
from typing import Any

from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from inventory.actions import uploading
from inventory.actions.uploading import Sending
from inventory.errors import NotAllowed, NotFound, Refused, TooLate
from inventory.forms.media import SendingForm
from inventory.pages.access import StaffRequest, staff_page
from inventory.queries.media import arrived, upload_of
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.media import PIECE_BYTES, ClipKind
from inventory.rules.roles import Act
from inventory.uploads import assembled

View = Callable[..., JsonResponse]


def in_json(view: View) -> View:
    """A refusal as code, field and sentence: 409 where somebody or something was faster, else 422."""

    @wraps(view)
    def answered(request: StaffRequest, *args: Any, **kwargs: Any) -> JsonResponse:
        try:
            return view(request, *args, **kwargs)
        except (NotAllowed, NotFound):
            raise
        except Refused as problem:
            said = {"code": problem.code, "field": problem.field, "message": str(problem)}
            if problem.code == "offset_differs":
                said["received"] = problem.got
            return JsonResponse(said, status=409 if isinstance(problem, TooLate) else 422)

    return answered


@require_POST
@staff_page(Act.RECORD_FACTS)
@in_json
def begin(request: StaffRequest) -> JsonResponse:
    """Announce a file. What is whole already, and was refused as it stood, is tried again as it is announced now."""
    form = _announced(request)
    stay = stay_by_number(form.cleaned_data["stock_number"])
    row = uploading.begin_upload(stay.pk, sending=_sending(form), by=request.actor, at=timezone.now())
    return _answer(_finished(request, row), status=201)


@require_http_methods(["GET", "PUT", "DELETE"])
@staff_page(Act.RECORD_FACTS, put=Act.RECORD_FACTS, delete=Act.RECORD_FACTS)
@in_json
def upload(request: StaffRequest, code: uuid.UUID) -> JsonResponse:
    if request.method == "DELETE":
        uploading.drop_upload(code, by=request.actor, at=timezone.now())
        return JsonResponse({"code": str(code), "received": 0})
    if request.method == "GET":
        return _answer(upload_of(code, by=request.actor))
    row = uploading.receive_piece(
        code, offset=_offset(request), content=_piece(request), by=request.actor, at=timezone.now()
    )
    return _answer(_finished(request, row))


def _finished(request: StaffRequest, row: Any) -> Any:
    """The upload, finished if its last byte has come. Decoding takes a while: it is done before any row is locked."""
    if row.finished_at or not row.is_whole:
        return row
    with assembled(arrived(row)) as made:
        return uploading.finish_upload(row.code, made=made, by=request.actor, at=timezone.now())


def _answer(row: Any, *, status: int = 200) -> JsonResponse:
    made = row.photo or row.clip
    said = {
        "code": str(row.code), "received": row.received, "total": row.total,
        "finished": row.finished_at is not None, "made": str(made.code) if made else None,
    }  # fmt: skip
    return JsonResponse(said, status=status)


def _announced(request: HttpRequest) -> SendingForm:
    try:
        given = json.loads(request.body)
    except (ValueError, RecursionError) as problem:
        raise Refused("no_json", "What came is no JSON.", mend="Send one JSON object.") from problem
    if not isinstance(given, dict):
        raise Refused("no_json", "What came is no JSON object.", mend="Send one JSON object.")
    form = SendingForm(given)
    if not form.is_valid():
        field, problems = next(iter(form.errors.items()))
        raise Refused("invalid", f"{field}: {problems[0]}", field=field, got=given.get(field))
    return form


def _sending(form: SendingForm) -> Sending:
    given = form.cleaned_data
    return Sending(
        kind=given["kind"], name=given["name"], total=given["bytes"], sha256=given["sha256"],
        client_key=given["client_key"], spot=form.spot(), clip_kind=given["clip_kind"] or ClipKind.OTHER,
        caption=given["caption"], public=given["public"],
    )  # fmt: skip


def _offset(request: HttpRequest) -> int:
    text = request.GET.get("offset", "")
    if not (text.isascii() and text.isdigit() and len(text) < 16):
        raise Refused("bad_offset", f"An offset is a number of bytes, got {text!r}.", field="offset", got=text)
    return int(text)


def _piece(request: HttpRequest) -> bytes:
    """The raw body; its length is looked at before it is read."""
    if int(request.META.get("CONTENT_LENGTH") or 0) > PIECE_BYTES:
        size = request.META["CONTENT_LENGTH"]
        raise Refused("bad_piece", f"A piece has at most {PIECE_BYTES} bytes, this one {size}.", field="body", got=size)
    return request.body
