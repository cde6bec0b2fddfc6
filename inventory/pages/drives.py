"""Test drives of one vehicle: out, signed on the screen, and back."""

import uuid
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from inventory.actions import driving
from inventory.actions.inquiring import Reach
from inventory.forms.drives import BackForm, TakeOutForm
from inventory.pages import serving
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import drives as queries
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.drives import CAUTION, REVIEW, text_mark
from inventory.rules.roles import Act
from inventory.uploads import uploaded_picture


@staff_page(Act.LOG_TEST_DRIVE)
def test_drives(request: StaffRequest, stock_number: str) -> HttpResponse:
    """Whatever is wrong, the page comes back with everything typed and drawn."""
    stay = stay_by_number(stock_number)
    page = _page(request, stay)
    sent = request.POST or None
    form = TakeOutForm(
        sent, request.FILES or None, page=page, mark=text_mark(page.text), asked=request.GET.get("asked", "")
    )
    if sent and form.is_valid() and attempt(form, lambda: _take_out(request, stay.pk, form=form)) is not None:
        messages.success(request, "It is out on a test drive. It is logged as a showing too.")
        return redirect("test_drives", stock_number)
    return _show(request, stay, page=_page(request, stay) if sent else page, form=form)


def _page(request: StaffRequest, stay: Any) -> queries.DrivesPage:
    return queries.drives_page(stay, by=request.actor, today=timezone.localdate(), now=timezone.now())


def _take_out(request: StaffRequest, stay_id: int, *, form: TakeOutForm) -> object:
    picture = form.cleaned_data.get("licence_copy")
    given = form.given()
    drive = driving.NewDrive(
        **given["drive"], reach=Reach(**given["reach"]),
        licence_copy=uploaded_picture(picture) if picture else None,
    )  # fmt: skip
    return driving.take_out(stay_id, drive=drive, by=request.actor, at=timezone.now())


def _show(
    request: StaffRequest, stay: Any, *, page: queries.DrivesPage, form: TakeOutForm, back: BackForm | None = None
) -> HttpResponse:
    out = page.out.row if page.out else None
    shown = {
        "stay": stay, "page": page, "here": "drives", "form": form, "caution": CAUTION, "review": REVIEW,
        "stopped_by": page.stopped_by, "own_text": bool(page.lot.drive_waiver.strip()),
        "back": back or (BackForm(initial={"version": out.version}) if out else None),
    }  # fmt: skip
    wrong = form.is_bound or back is not None
    return render(request, "inventory/drives/page.html", shown, status=422 if wrong else 200)


@require_POST
@staff_page(Act.LOG_TEST_DRIVE)
def drive_back(request: StaffRequest, stock_number: str) -> HttpResponse:
    stay = stay_by_number(stock_number)
    page = _page(request, stay)
    if page.out is None:
        messages.info(request, "It is not out: it came back already.")
        return redirect("test_drives", stock_number)
    code, form = page.out.row.code, BackForm(request.POST)
    if form.is_valid():
        done = attempt(
            form,
            lambda: driving.bring_back(code, **form.cleaned_data, by=request.actor, at=timezone.now()),
        )
        if done is not None:
            messages.success(request, "It is back.")
            return redirect("test_drives", stock_number)
    return _show(request, stay, page=page, form=TakeOutForm(page=page, mark=text_mark(page.text)), back=form)


@require_safe
@staff_page(Act.SEE_LICENCE)
def licence_copy(request: StaffRequest, stock_number: str, code: uuid.UUID) -> HttpResponseBase:
    row = queries.drive_with_copy(code, stay=stay_by_number(stock_number), today=timezone.localdate())
    answer = serving.picture(row.licence_copy)
    answer["Cache-Control"] = "no-store"
    return answer
