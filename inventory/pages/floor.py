"""The floor: where every vehicle and its keys are, a move by one tap, and the places themselves."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from inventory.actions import placing, recording
from inventory.forms import floor as forms
from inventory.forms.fields import once
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.papers.place_sheet import place_sheet
from inventory.queries import places as queries
from inventory.queries.place_sheet import place_sheet_paper
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.roles import Act, Actor


@require_GET
@staff_page(Act.SEE_LOT)
def floor(request: StaffRequest) -> HttpResponse:
    """Every vehicle that is here, by place; those of one place where it is named."""
    rows, place = queries.standings(today=timezone.localdate()), request.GET.get("place", "").strip()
    sheet = forms.SheetForm(places=queries.place_names(rows), initial={"place": place})
    shown = {"rows": queries.at_place(rows, place=place), "place": place, "sheet": sheet, "tab": "places"}
    return render(request, "inventory/floor/page.html", shown)


@require_GET
@staff_page(Act.SEE_LOT)
def sheet(request: StaffRequest) -> HttpResponse:
    """The sheet to walk with; of one place where it is named. Kept by no cache: it says who has the keys."""
    now = timezone.localtime()
    paper = place_sheet_paper(place=request.GET.get("place", "").strip(), now=now)
    headers = {
        "Content-Disposition": 'inline; filename="places.pdf"', "Cache-Control": "no-store",
        "X-Content-Type-Options": "nosniff",
    }  # fmt: skip
    return HttpResponse(place_sheet(paper), content_type="application/pdf", headers=headers)


@staff_page(Act.SEE_LOT)
def move_vehicle(request: StaffRequest, stock_number: str) -> HttpResponse:
    stay = stay_by_number(stock_number)
    where = queries.whereabouts_of_stay(stay)
    move = forms.MoveForm(request.POST or None, initial={"keys": where.keys}, auto_id="move_%s")
    if move.is_valid():
        given = once(move.cleaned_data)
        row = attempt(move, lambda: recording.record_place(stay.pk, **given, by=request.actor, at=timezone.now()))
        if row is not None:
            messages.success(request, f"{stay.stock_number} is at {row.place} now.")
            return redirect("floor")
    return _show_move(request, stock_number, move=move)


def _show_move(
    request: StaffRequest, stock_number: str, *, move: forms.MoveForm, keys: forms.KeysForm | None = None,
    tag: forms.KeyTagForm | None = None,
) -> HttpResponse:  # fmt: skip
    stay = stay_by_number(stock_number)
    shown = {
        "stay": stay, "here": "place", "where": queries.whereabouts_of_stay(stay),
        "places": queries.places_to_move_to(), "move": move, "keys": keys or forms.KeysForm(auto_id="keys_%s"),
        "tag": tag or forms.KeyTagForm(
            initial={"key_tag": stay.key_tag, "version": stay.version}, auto_id="tag_%s"
        ),
    }  # fmt: skip
    return render(request, "inventory/floor/move.html", shown)


def _fresh_move(stock_number: str) -> forms.MoveForm:
    where = queries.whereabouts_of_stay(stay_by_number(stock_number))
    return forms.MoveForm(initial={"keys": where.keys}, auto_id="move_%s")


@staff_page(Act.SEE_LOT)
def hand_keys(request: StaffRequest, stock_number: str) -> HttpResponse:
    if request.method != "POST":
        return redirect("move_vehicle", stock_number)
    stay, form = stay_by_number(stock_number), forms.KeysForm(request.POST, auto_id="keys_%s")
    if form.is_valid():
        given = once(form.cleaned_data)
        if attempt(form, lambda: placing.hand_keys(stay.pk, **given, by=request.actor, at=timezone.now())):
            messages.success(request, f"The keys of {stay.stock_number}: {given['keys']}.")
            return redirect("floor")
    return _show_move(request, stock_number, move=_fresh_move(stock_number), keys=form)


@staff_page(Act.SEE_LOT)
def set_key_tag(request: StaffRequest, stock_number: str) -> HttpResponse:
    if request.method != "POST":
        return redirect("move_vehicle", stock_number)
    stay, form = stay_by_number(stock_number), forms.KeyTagForm(request.POST, auto_id="tag_%s")
    if form.is_valid():
        given = form.cleaned_data
        if attempt(form, lambda: placing.set_key_tag(stay.pk, **given, by=request.actor, at=timezone.now())):
            messages.success(request, "The tag is kept.")
            return redirect("vehicle_file", stock_number)
    return _show_move(request, stock_number, move=_fresh_move(stock_number), tag=form)


@staff_page(Act.SET_UP_FLOOR)
def places(request: StaffRequest) -> HttpResponse:
    form = forms.NewPlaceForm(request.POST or None)
    if form.is_valid():
        row = attempt(form, lambda: placing.add_place(**form.cleaned_data, by=request.actor, at=timezone.now()))
        if row is not None:
            messages.success(request, f"{row.name} is set up.")
            return redirect("places")
    shown = {
        "form": form, "places": queries.places_to_move_to(), "retired": queries.retired_places(), "tab": "places",
    }  # fmt: skip
    return render(request, "inventory/floor/places.html", shown)


@staff_page(Act.SET_UP_FLOOR)
def change_place(request: StaffRequest, place_id: int) -> HttpResponse:
    row = queries.place_by_id(place_id)
    first = {name: getattr(row, name) for name in ("name", "kind", "not_for_sale", "order", "version")}
    form = forms.ChangePlaceForm(request.POST or None, initial={**first, "retired": row.retired_at is not None})
    if form.is_valid() and attempt(form, lambda: _change(form, place_id=place_id, by=request.actor)) is not None:
        messages.success(request, "The place is changed.")
        return redirect("places")
    return render(request, "inventory/floor/place.html", {"form": form, "place": row, "tab": "places"})


def _change(form: forms.ChangePlaceForm, *, place_id: int, by: Actor) -> object:
    said = form.cleaned_data
    return placing.change_place(
        place_id, values=form.values(), retired=said["retired"], version=said["version"], by=by, at=timezone.now()
    )
