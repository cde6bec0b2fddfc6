"""Vehicles that may come: the list, one of them, and what is done about it until it is booked or declined."""

import uuid
from collections.abc import Callable
from datetime import datetime
from typing import Any

from django.contrib import messages
from django.forms import BaseForm
from django.http import Http404, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from inventory.actions import pricing, prospecting
from inventory.actions.agreeing import NewTerms
from inventory.actions.prospecting import Booked, Person, ToldOf
from inventory.errors import Refused
from inventory.forms import prospects as forms
from inventory.forms.terms import PriceForm
from inventory.pages import serving
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.pages.choosing import choices_of
from inventory.queries import vehicles_to_come as queries
from inventory.queries.terms import begun_with
from inventory.rules.roles import Act
from inventory.uploads import uploaded_picture


@require_safe
@staff_page(Act.KEEP_PROSPECTS)
def prospects(request: StaffRequest) -> HttpResponse:
    search = forms.ProspectSearch(request.GET)
    stage = search.cleaned_data["stage"] if search.is_valid() else ""
    page = queries.prospect_page(stage=stage, number=request.GET.get("page", "1"))
    shown = {"search": search, "page": page, "counts": queries.stage_counts(), "today": timezone.localdate()}
    return render(request, "inventory/prospects/list.html", shown)


@require_http_methods(["GET", "POST"])
@staff_page(Act.KEEP_PROSPECTS)
def new_prospect(request: StaffRequest) -> HttpResponse:
    form = forms.NewProspectForm(
        request.POST or None, consignors=choices_of(request.POST), staff=queries.staff_choices(),
        initial={"brought_in_by": request.actor.id},
    )  # fmt: skip
    if form.is_valid():
        row = attempt(
            form,
            lambda: prospecting.log_prospect(
                ToldOf(**form.told()), person=Person(**form.person()), client_key=form.cleaned_data["client_key"],
                by=request.actor, at=timezone.now(),
            ),
        )  # fmt: skip
        if row is not None:
            messages.success(request, f"{row} is kept. Everything of it is told: nobody of the lot has seen it.")
            return redirect("prospect", row.code)
    return render(request, "inventory/prospects/told.html", {"form": form}, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@staff_page(Act.KEEP_PROSPECTS)
def change_prospect(request: StaffRequest, code: uuid.UUID) -> HttpResponse:
    row = queries.prospect_by_code(code)
    staff = queries.staff_choices()
    form = forms.ChangeProspectForm(request.POST or None, staff=staff, initial=forms.told_initial(row))
    if form.is_valid():
        version = form.cleaned_data["version"]
        done = attempt(
            form,
            lambda: prospecting.change_prospect(
                row.pk, told=ToldOf(**form.told()), version=version, by=request.actor, at=timezone.now()
            ),
        )
        if done is not None:
            messages.success(request, "What is told is kept.")
            return redirect("prospect", code)
    shown = {"form": form, "row": row}
    return render(request, "inventory/prospects/told.html", shown, status=422 if form.errors else 200)


@require_safe
@staff_page(Act.KEEP_PROSPECTS)
def prospect(request: StaffRequest, code: uuid.UUID) -> HttpResponse:
    return _show(request, queries.prospect_by_code(code))


@require_POST
@staff_page(Act.KEEP_PROSPECTS)
def add_photos(request: StaffRequest, code: uuid.UUID) -> HttpResponse:
    """Each picture by itself: a bad one is told by name, the good ones are kept."""
    row, at = queries.prospect_by_code(code), timezone.now()
    form = forms.ProspectPhotosForm(request.POST, request.FILES, auto_id="photos-%s")
    kept = [_keep(request, row, form=form, upload=upload, at=at) for upload in _pictures(form)]
    if any(kept):
        messages.success(request, f"Pictures kept: {sum(kept)}.")
    return _show(request, row, photos=form) if form.errors else redirect("prospect", code)


def _pictures(form: forms.ProspectPhotosForm) -> list[Any]:
    return list(form.cleaned_data["file"]) if form.is_valid() else []


def _keep(request: StaffRequest, row: Any, *, form: forms.ProspectPhotosForm, upload: Any, at: datetime) -> bool:
    picture = attempt(form, lambda: uploaded_picture(upload))
    if picture is None:
        return False
    caption = form.cleaned_data.get("caption", "")
    return (
        attempt(
            form,
            lambda: prospecting.add_prospect_photo(row.pk, picture=picture, caption=caption, by=request.actor, at=at),
        )
        is not None
    )


@require_POST
@staff_page(Act.SEE_PRICE)
def price(request: StaffRequest, code: uuid.UUID) -> HttpResponse:
    row = queries.prospect_by_code(code)
    try:
        pricing.give_prospect_opinion(row.pk, by=request.actor, at=timezone.now())
    except Refused as problem:
        messages.error(request, str(problem))
    return redirect("prospect", code)


@require_POST
@staff_page(Act.AGREE_TERMS)
def propose_terms(request: StaffRequest, code: uuid.UUID) -> HttpResponse:
    row = queries.prospect_by_code(code)
    form = forms.ProposedTermsForm(request.POST, auto_id="terms-%s")
    if form.is_valid():
        version = form.cleaned_data["version"]
        terms = NewTerms(**form.given())
        done = attempt(
            form,
            lambda: prospecting.propose_terms(
                row.pk, terms=terms, version=version, by=request.actor, at=timezone.now()
            ),
        )
        if done is not None:
            messages.success(request, "The proposed terms are kept.")
            return redirect("prospect", code)
    return _show(request, row, terms=form)


@require_safe
@staff_page(Act.SEE_MONEY)
def proposal(request: StaffRequest, code: uuid.UUID) -> HttpResponse:
    """Proposed terms and net sheet on one page, to print for the owner of the vehicle."""
    row = queries.prospect_by_code(code)
    today = timezone.localdate()
    shown = {"row": row, "proposed": queries.proposal_of(row, today=today), "today": today}
    return render(request, "inventory/prospects/proposal.html", shown)


DEEDS: dict[str, tuple[str, Any, Callable[..., Any], str]] = {
    "follow-up": ("follow_up", forms.FollowUpForm, prospecting.follow_up, "The day is kept."),
    "decline": ("decline", forms.DeclineForm, prospecting.decline, "It is declined. What was told stays."),
    "open-again": ("open_again", forms.OpenAgainForm, prospecting.open_again, "It is open again."),
    "book": ("book", forms.BookForm, prospecting.book, "Booked as {done.stay.stock_number}, for {known}."),
}


@require_POST
@staff_page(Act.KEEP_PROSPECTS)
def deed(request: StaffRequest, code: uuid.UUID, deed: str) -> HttpResponse:
    if deed not in DEEDS:
        raise Http404(f"There is nothing called {deed} to do here.")
    row = queries.prospect_by_code(code)
    name, form_class, action, told = DEEDS[deed]
    form = form_class(request.POST, auto_id=f"{name}-%s")
    if form.is_valid():
        done = attempt(form, lambda: action(row.pk, **form.cleaned_data, by=request.actor, at=timezone.now()))
        if done is not None:
            messages.success(request, told.format(done=done, known=_whom(done)))
            return redirect("vehicle_file", done.stay.stock_number) if deed == "book" else redirect("prospect", code)
    return _show(request, row, **{name: form})


def _whom(done: Any) -> str:
    """Whose stay was booked, and whether they are known already."""
    if not isinstance(done, Booked):
        return ""
    name = done.stay.consignor.name
    return f"{name}, who is a consignor already" if done.was_known else f"{name}, a new consignor"


@require_safe
@staff_page(Act.KEEP_PROSPECTS)
def photo(request: StaffRequest, code: uuid.UUID) -> HttpResponseBase:
    return _private(serving.picture(queries.photo_by_code(code).file))


@require_safe
@staff_page(Act.KEEP_PROSPECTS)
def small_photo(request: StaffRequest, code: uuid.UUID) -> HttpResponseBase:
    row = queries.photo_by_code(code)
    return _private(serving.picture(row.thumbnail or row.file))


def _private(answer: HttpResponseBase) -> HttpResponseBase:
    patch_cache_control(answer, private=True, max_age=3600)
    return answer


def _show(request: StaffRequest, row: Any, **sent: BaseForm) -> HttpResponse:
    """The whole page; a form that was sent and refused stands open in its place."""
    price_form = PriceForm(request.GET if "price" in request.GET else None)
    asked = price_form.cleaned_data["price"] if price_form.is_valid() else None
    seen = queries.prospect_seen(row, today=timezone.localdate(), price=asked)
    begin = {"version": row.version}
    terms = begun_with(seen.proposed.row) if seen.proposed else {}
    blank = {
        "photos": forms.ProspectPhotosForm(auto_id="photos-%s"),
        "terms": forms.ProposedTermsForm(initial={**terms, **begin}, auto_id="terms-%s"),
        "follow_up": forms.FollowUpForm(initial={**begin, "follow_up_on": row.follow_up_on}, auto_id="follow_up-%s"),
        "decline": forms.DeclineForm(initial=begin, auto_id="decline-%s"),
        "open_again": forms.OpenAgainForm(initial=begin, auto_id="open_again-%s"),
        "book": forms.BookForm(initial=begin, auto_id="book-%s"),
    }
    shown = {"row": row, "seen": seen, "forms": {**blank, **sent}, "sent": list(sent), "price_form": price_form}
    return render(request, "inventory/prospects/page.html", shown, status=422 if sent else 200)
