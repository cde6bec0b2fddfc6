"""Where a device sends what was tapped on it, and the worker that keeps the walk's pages without signal."""

import json
from typing import Any

from django.contrib.staticfiles import finders
from django.http import FileResponse, HttpResponseBase, JsonResponse
from django.middleware.csrf import get_token
from django.utils import timezone
from django.views.decorators.http import require_GET

from inventory.actions import tapping
from inventory.actions.inspecting import Finding
from inventory.actions.tapping import Fate, Taken, Tap
from inventory.errors import Refused
from inventory.forms.taps import TapRead, TapsRead, read_taps
from inventory.pages.access import StaffRequest, open_page, staff_page
from inventory.queries.facts import open_inspection
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.roles import Act


@staff_page(Act.INSPECT)
def taps(request: StaffRequest, stock_number: str) -> HttpResponseBase:
    """GET: whom the house takes the device for, with a fresh token. POST: taps in their order, each answered."""
    stay = stay_by_number(stock_number)
    if request.method != "POST":
        walk = open_inspection(stay)
        return JsonResponse(
            {"user": request.actor.id, "csrf": get_token(request), "inspection": walk.number if walk else None}
        )
    try:
        parcel = read_taps(_body(request))
        _refuse_others(request, parcel)
    except Refused as problem:
        return JsonResponse({"problem": str(problem), "code": problem.code}, status=409)
    answers = [*_unreadable(parcel), *_taken(request, stay.pk, parcel)]
    shown = [{"key": one.key, "fate": one.fate, "told": one.told, "flag": one.flag} for one in answers]
    return JsonResponse({"answers": shown, "now": timezone.now().isoformat()})


def _body(request: StaffRequest) -> Any:
    try:
        return json.loads(request.body)
    except (ValueError, RecursionError) as problem:
        raise Refused("no_json", "The body is no JSON.", field="taps", got="", mend="Send JSON.") from problem


def _refuse_others(request: StaffRequest, parcel: TapsRead) -> None:
    """What one person tapped is never sent in another's name."""
    if parcel.user != request.actor.id:
        raise Refused(
            "other_user", "These taps were made by somebody else.", field="user", got=parcel.user,
            mend="Whoever made them signs in on this device.",
        )  # fmt: skip


def _unreadable(parcel: TapsRead) -> list[Taken]:
    return [Taken(tap.key, Fate.REFUSED, tap.problem) for tap in parcel.bad]


def _taken(request: StaffRequest, consignment_id: int, parcel: TapsRead) -> list[Taken]:
    return tapping.take_taps(
        consignment_id, taps=[_tap(tap) for tap in parcel.taps], device=parcel.device, sent_at=parcel.sent_at,
        by=request.actor, at=timezone.now(),
    )  # fmt: skip


def _tap(read: TapRead) -> Tap:
    return Tap(
        key=read.key, inspection=read.inspection, made_at=read.made_at,
        finding=Finding(**read.finding) if read.finding else None, visit=read.visit,
    )  # fmt: skip


@require_GET
@open_page("a script without any secret")
def worker(request: StaffRequest) -> HttpResponseBase:
    """The service worker, at the top so that it may serve every page of the walk. It holds no secret."""
    path = finders.find("inventory/walk_worker.js")
    answer = FileResponse(open(str(path), "rb"), content_type="text/javascript")  # noqa: SIM115  # closed by the answer
    answer["Cache-Control"] = "no-cache"
    return answer
