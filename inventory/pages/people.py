"""The directory of people, and the page of one person."""

import uuid
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from inventory.actions import people as actions
from inventory.forms.people import CORRECTIONS, NoteForm, PeopleSearch
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import directory, person_page, persons
from inventory.queries.persons import Person
from inventory.rules.roles import Act

EVENTS_A_PAGE = 60


@require_GET
@staff_page(Act.SEE_PEOPLE)
def people(request: StaffRequest) -> HttpResponse:
    search = PeopleSearch(request.GET)
    search.is_valid()  # what does not fit is told on the form, the rest still counts
    said = search.cleaned_data
    wanted = directory.Wanted(said.get("q", ""), said.get("kind", ""), bool(said.get("doubles")))
    page = directory.people_page(wanted, number=request.GET.get("page", "1"))
    return render(request, "inventory/people/page.html", {"search": search, "page": page, "wanted": wanted})


@require_GET
@staff_page(Act.SEE_PEOPLE)
def person(request: StaffRequest, kind: str, code: uuid.UUID) -> HttpResponse:
    who = persons.person(kind, code=code)
    if who.row.merged_into is not None:
        messages.info(request, f"{who.row.name} was merged into {who.goes_on.name}.")
        return redirect("person", kind=kind, code=who.goes_on.code)
    return _show(request, who)


@require_POST
@staff_page(Act.SEE_PEOPLE)
def note_person(request: StaffRequest, kind: str, code: uuid.UUID) -> HttpResponse:
    who = persons.person(kind, code=code)
    form = NoteForm(request.POST, stays=person_page.stay_choices(who), auto_id="note-%s")
    if form.is_valid():
        said = form.cleaned_data
        row = attempt(
            form, lambda: actions.log_note(kind, person_id=who.row.pk, **said, by=request.actor, at=timezone.now())
        )
        if row is not None:
            messages.success(request, "It is noted.")
            return redirect("person", kind=kind, code=who.goes_on.code)
    return _show(request, who, failed=form)


@require_http_methods(["GET", "POST"])
@staff_page(Act.SEE_PEOPLE)
def correct_person(request: StaffRequest, kind: str, code: uuid.UUID) -> HttpResponse:
    who = persons.person(kind, code=code)
    names = CORRECTIONS[kind].base_fields
    form = CORRECTIONS[kind](request.POST or None, initial={name: getattr(who.row, name) for name in names})
    if form.is_valid():
        given: dict[str, Any] = {"values": form.values(), "version": form.cleaned_data["version"]}
        row = attempt(
            form,
            lambda: actions.correct_person(kind, person_id=who.row.pk, **given, by=request.actor, at=timezone.now()),
        )
        if row is not None:
            messages.success(request, f"{row.name} is corrected.")
            return redirect("person", kind=kind, code=row.code)
    context = {"who": who, "form": form, "title": f"Correct {who.row.name}"}
    return render(request, "inventory/people/correct.html", context, status=422 if form.errors else 200)


def _show(request: StaffRequest, who: Person, *, failed: NoteForm | None = None) -> HttpResponse:
    page = person_page.page_of(who)
    form = failed or NoteForm(stays=person_page.stay_choices(who), auto_id="note-%s")
    doubles = directory.doubles_of(who.kind, of=[who.row.pk]).get(who.row.pk, ())
    context = {
        "who": who, "page": page, "events": Paginator(page.events, EVENTS_A_PAGE).get_page(request.GET.get("page")),
        "note_form": form, "doubles": doubles,
    }  # fmt: skip
    return render(request, "inventory/people/person.html", context, status=422 if failed else 200)
