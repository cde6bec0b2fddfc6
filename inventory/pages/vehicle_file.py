"""The file of one vehicle: what is known of it, and the forms that add to it."""

from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.forms import BaseForm, Form
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.actions import intake, recording
from inventory.actions.moving import move
from inventory.forms import vehicle_file as forms
from inventory.forms.fields import once
from inventory.forms.media import ClipForm, PhotoForm
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import vehicle_file as queries
from inventory.queries.deal_papers import reminders_of
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.roles import Act
from inventory.rules.states import State
from inventory.uploads import uploaded_picture

ADDING: dict[str, type[Form]] = {
    "identity": forms.IdentityNumberForm,
    "resolution": forms.ResolveIdentityForm,
    "paper": forms.TitlePaperForm,
    "modification": forms.ModificationForm,
    "photo": PhotoForm,
    "clip": ClipForm,
    "place": forms.PlaceForm,
}


@require_safe
@staff_page(Act.SEE_LOT)
def vehicle_file(request: StaffRequest, stock_number: str) -> HttpResponse:
    return _show(request, stock_number)


def _show(request: StaffRequest, stock_number: str, **sent: BaseForm) -> HttpResponse:
    """The whole page; a form that was sent and refused stands open in its place."""
    stay = stay_by_number(stock_number)
    piece, lines = queries.log_piece(stay, by=request.actor, place=request.GET.get("place", ""))
    spot = {name: request.GET.get(name, "") for name in ("station", "check_code", "shot")}
    file = queries.file_of(stay, today=timezone.localdate())
    first: dict[str, Any] = {"resolution": {"question": file.identity.open}, "photo": spot, "clip": spot}
    blank = {
        name: form(auto_id=f"{name}_%s", initial=first.get(name)) for name, form in ADDING.items() if name not in sent
    }
    arrived = forms.ArrivedForm(initial={"part": "arrived", "version": stay.version}, auto_id="arrived_%s")
    shown = {
        "stay": stay, "file": file, "piece": piece, "log": lines, "forms": {**blank, **sent},
        "sent": list(sent), "more": request.GET.get("more", ""), "here": "file", "arrived": arrived,
        "asked": queries.asked_for(spot["station"], shot=spot["shot"]),
        "figures": file.figures,
        "reminders": reminders_of(stay, deal=None, today=timezone.localdate()),
    }  # fmt: skip
    return render(request, "inventory/vehicle_file/page.html", shown, status=422 if sent else 200)


def _add(
    request: StaffRequest,
    stock_number: str,
    *,
    name: str,
    deed: Callable[[int, dict[str, Any]], object],
    told: str,
) -> HttpResponse:
    """One form of the file: do its deed and show the file again, or show it with what is wrong."""
    if request.method != "POST":  # whoever signs in anew after sending a form comes back by GET
        return redirect("vehicle_file", stock_number)
    form = ADDING[name](request.POST, auto_id=f"{name}_%s")
    stay = stay_by_number(stock_number)
    if form.is_valid() and attempt(form, lambda: deed(stay.pk, form.cleaned_data)) is not None:
        messages.success(request, told)
        file = reverse("vehicle_file", args=[stock_number])
        return redirect(f"{file}?more={name}#add-{name}" if "another" in request.POST else file)
    return _show(request, stock_number, **{name: form})


@staff_page(Act.RECORD_FACTS)
def add_identity_number(request: StaffRequest, stock_number: str) -> HttpResponse:
    return _add(
        request, stock_number, name="identity", told="The number is recorded.",
        deed=lambda pk, given: recording.add_identity_number(pk, **given, by=request.actor, at=timezone.now()),
    )  # fmt: skip


@staff_page(Act.RESOLVE_IDENTITY)
def resolve_identity(request: StaffRequest, stock_number: str) -> HttpResponse:
    return _add(
        request, stock_number, name="resolution", told="The question about the identity is resolved.",
        deed=lambda pk, given: recording.resolve_identity(pk, **once(given), by=request.actor, at=timezone.now()),
    )  # fmt: skip


@staff_page(Act.RECORD_FACTS)
def add_title_paper(request: StaffRequest, stock_number: str) -> HttpResponse:
    return _add(
        request, stock_number, name="paper", told="The paper is recorded.",
        deed=lambda pk, given: recording.add_title_paper(pk, **given, by=request.actor, at=timezone.now()),
    )  # fmt: skip


@staff_page(Act.RECORD_FACTS)
def add_modification(request: StaffRequest, stock_number: str) -> HttpResponse:
    return _add(
        request, stock_number, name="modification", told="The modification is recorded.",
        deed=lambda pk, given: recording.add_modification(
            pk, **once(given), by=request.actor, at=timezone.now()
        ),
    )  # fmt: skip


@staff_page(Act.SEE_LOT)
def record_place(request: StaffRequest, stock_number: str) -> HttpResponse:
    return _add(
        request, stock_number, name="place", told="The place is recorded.",
        deed=lambda pk, given: recording.record_place(pk, **once(given), by=request.actor, at=timezone.now()),
    )  # fmt: skip


@staff_page(Act.RECORD_FACTS)
def add_photo(request: StaffRequest, stock_number: str) -> HttpResponse:
    """Each picture by itself: a bad one is told by name, the good ones are kept."""
    if request.method != "POST":
        return redirect("vehicle_file", stock_number)
    stay, at = stay_by_number(stock_number), timezone.now()
    form = PhotoForm(request.POST, request.FILES, auto_id="photo_%s")
    kept = [_keep(request, stay.pk, form=form, upload=upload, at=at) for upload in _pictures(form)]
    new, here = kept.count("new"), kept.count("here")
    if new:
        messages.success(request, "One picture is kept." if new == 1 else f"{new} pictures are kept.")
    if here:
        messages.info(request, "One was here already." if here == 1 else f"{here} were here already.")
    return _show(request, stock_number, photo=form) if form.errors else redirect("vehicle_file", stock_number)


def _pictures(form: PhotoForm) -> list[Any]:
    return form.pictures() if form.is_valid() else []


def _keep(request: StaffRequest, consignment_id: int, *, form: PhotoForm, upload: Any, at: datetime) -> str:
    """Whether one picture is new, was here already, or was refused (which the form tells)."""
    picture = attempt(form, lambda: uploaded_picture(upload))
    if picture is None:
        return "refused"
    given = form.cleaned_data
    row = attempt(
        form,
        lambda: recording.add_photo(
            consignment_id, picture=picture, caption=given["caption"], public=given["public"], spot=form.spot(),
            by=request.actor, at=at,
        ),
    )  # fmt: skip
    if row is None:
        return "refused"
    return "new" if row.at == at else "here"


@staff_page(Act.RECORD_FACTS)
def correct(request: StaffRequest, stock_number: str) -> HttpResponse:
    """Three forms about vehicle, stay and consignor; `part` says which was sent. A booked vehicle arrives here."""
    stay = stay_by_number(stock_number)
    parts = {
        "vehicle": (forms.CorrectVehicleForm, stay.vehicle), "stay": (forms.CorrectStayForm, stay),
        "consignor": (forms.CorrectConsignorForm, stay.consignor), "arrived": (forms.ArrivedForm, stay),
    }  # fmt: skip
    shown = {
        name: form(initial=forms.initial_of(form, row=row, part=name), auto_id=f"{name}_%s")
        for name, (form, row) in parts.items()
    }
    part = request.POST.get("part", "")
    if part in parts:
        shown[part] = parts[part][0](request.POST, initial=shown[part].initial, auto_id=f"{part}_%s")
        if shown[part].is_valid() and attempt(shown[part], lambda: _deed(request, stay, form=shown[part])) is not None:
            messages.success(request, "It is here now." if part == "arrived" else "The correction is recorded.")
            return redirect("vehicle_file", stock_number)
    refused = any(form.errors for form in shown.values())
    context = {"stay": stay, "forms": shown}
    return render(request, "inventory/vehicle_file/correct.html", context, status=422 if refused else 200)


def _deed(request: StaffRequest, stay: Any, *, form: forms.PartForm) -> object:
    by, at = request.actor, timezone.now()
    version = form.cleaned_data["version"]
    match form.cleaned_data["part"]:
        case "vehicle":
            return intake.correct_vehicle(stay.vehicle_id, values=form.values(), version=version, by=by, at=at)
        case "stay":
            return recording.correct_consignment(stay.pk, values=form.values(), version=version, by=by, at=at)
        case "consignor":
            return recording.correct_consignor(stay.consignor_id, values=form.values(), version=version, by=by, at=at)
        case _:
            return move(stay.pk, to=State.ON_LOT, version=version, by=by, at=at)
