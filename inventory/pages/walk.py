"""The intake walk: one screen for each station."""

from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.actions import inspecting
from inventory.actions.inspecting import Finding
from inventory.forms.media import PhotoForm
from inventory.forms.walk import CheckForm, ClearFlagForm, FeatureForm, StationForm
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import walk as queries
from inventory.queries.flags import flag_line
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.roles import Act


@require_safe
@staff_page(Act.INSPECT)
def walk(request: StaffRequest, stock_number: str) -> HttpResponse:
    return _show(request, stock_number, form=Form())


def _show(request: StaffRequest, stock_number: str, *, form: Form) -> HttpResponse:
    stay = stay_by_number(stock_number)
    shown = {"stay": stay, "walk": queries.walk_of(stay, today=timezone.localdate()), "form": form, "here": "walk"}
    return render(request, "inventory/walk/page.html", shown)


@staff_page(Act.INSPECT)
def begin(request: StaffRequest, stock_number: str) -> HttpResponse:
    if request.method != "POST":  # whoever signs in anew after sending the form comes back by GET
        return redirect("walk", stock_number)
    stay = stay_by_number(stock_number)
    form = Form(request.POST)
    row = attempt(form, lambda: inspecting.begin_inspection(stay.pk, by=request.actor, at=timezone.now()))
    return _show(request, stock_number, form=form) if row is None else redirect("walk", stock_number)


@staff_page(Act.INSPECT)
def finish(request: StaffRequest, stock_number: str) -> HttpResponse:
    if request.method != "POST":
        return redirect("walk", stock_number)
    stay = stay_by_number(stock_number)
    form = Form(request.POST)
    row = attempt(form, lambda: inspecting.finish_inspection(stay.pk, by=request.actor, at=timezone.now()))
    if row is None:
        return _show(request, stock_number, form=form)
    messages.success(request, f"Inspection {row.number} is finished: condition {row.condition_low} to "
                     f"{row.condition_high}.")  # fmt: skip
    return redirect("vehicle_file", stock_number)


@staff_page(Act.INSPECT)
def station(request: StaffRequest, stock_number: str, station: str) -> HttpResponse:
    """Grade one station, then go on to the next; `rest` answers with one tap what is left here."""
    stay = stay_by_number(stock_number)
    page = queries.station_page(stay, code=station, today=timezone.localdate())
    if request.method != "POST" and not page.is_open:
        messages.warning(request, "No inspection is open. Begin one to grade a station.")
        return redirect("walk", stock_number)
    whole = StationForm(request.POST or None, initial={"engine": page.visit.engine if page.visit else ""})
    forms = [CheckForm(request.POST or None, found=found) for found in page.found.checks]
    sound = [form.is_valid() for form in (whole, *forms)]  # each is looked at, so that each says what is wrong
    if request.method == "POST" and all(sound):
        changed = [form for form in forms if form.has_changed()]
        if attempt(whole, lambda: _record(request, stay.pk, station=station, whole=whole, changed=changed)) is not None:
            return _after(stock_number, page=page, rest=whole.cleaned_data["rest"])
    photo = PhotoForm(auto_id="photo_%s", initial={"station": station})
    shown = {
        "stay": stay, "page": page, "photo": photo, "whole": whole, "forms": forms,
        "wrong": bool(whole.errors) or any(form.errors for form in forms),
    }  # fmt: skip
    return render(request, "inventory/walk/station.html", shown)


def _record(
    request: StaffRequest, consignment_id: int, *, station: str, whole: StationForm, changed: list[CheckForm]
) -> bool:
    now, given = timezone.now(), whole.cleaned_data
    inspecting.record_station(
        consignment_id, station=station, findings=[Finding(**form.values()) for form in changed], rest=given["rest"],
        by=request.actor, at=now,
    )  # fmt: skip
    if "engine" in whole.changed_data and given["engine"]:  # last: a refusal above leaves nothing half written
        inspecting.record_visit(consignment_id, station=station, engine=given["engine"], by=request.actor, at=now)
    return True


def _after(stock_number: str, *, page: queries.StationPage, rest: str) -> HttpResponse:
    """After one tap for many the same station, to look it over; else the next one."""
    if rest:
        return redirect("station", stock_number, page.found.station.code)
    return redirect("station", stock_number, page.after.code) if page.after else redirect("walk", stock_number)


@staff_page(Act.INSPECT)
def features(request: StaffRequest, stock_number: str) -> HttpResponse:
    """What the vehicle has: questions that do not apply do not appear."""
    stay = stay_by_number(stock_number)
    forms = [FeatureForm(request.POST or None, line=line) for line in queries.feature_lines(stay)]
    sound = [form.is_valid() for form in forms]
    if request.method == "POST" and all(sound):
        saying = [form for form in forms if form.says(rest=request.POST.get("rest", ""))]
        for form in saying:
            inspecting.record_feature(stay.pk, **form.values(), by=request.actor, at=timezone.now())
        messages.success(request, _features_told(saying))
        return redirect("walk", stock_number)
    shown = {"stay": stay, "forms": forms, "wrong": any(form.errors for form in forms), "here": "walk"}
    return render(request, "inventory/walk/features.html", shown)


def _features_told(saying: list[FeatureForm]) -> str:
    """What was recorded, word for word: “everything else” may be more than somebody meant."""
    lacks = [str(form.feature.label) for form in saying if not form.values()["present"]]
    has = [str(form.feature.label) for form in saying if form.values()["present"]]
    told = [f"{word}: {', '.join(labels)}." for word, labels in (("It has", has), ("It has not", lacks)) if labels]
    return " ".join(told) or "Nothing was changed."


@staff_page(Act.CLEAR_FLAG)
def clear_flag(request: StaffRequest, stock_number: str, key: str) -> HttpResponse:
    """The owner clears one safety flag, with a reason."""
    stay = stay_by_number(stock_number)
    line = flag_line(stay, key=key, today=timezone.localdate())
    form = ClearFlagForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        said = {"key": key, "reason": form.cleaned_data["reason"], "by": request.actor, "at": timezone.now()}
        if attempt(form, lambda: inspecting.clear_flag(stay.pk, **said)) is not None:
            messages.success(request, "The flag is cleared. It stays in the file with your reason.")
            return redirect("vehicle_file", stock_number)
    shown = {"stay": stay, "line": line, "form": form, "here": "file"}
    return render(request, "inventory/walk/clear_flag.html", shown)
