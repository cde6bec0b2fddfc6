"""What the owner may do with a person's data: merge doubles, hand it out, erase it."""

import uuid

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from inventory.actions import erasing, merging
from inventory.actions import people as actions
from inventory.errors import Refused
from inventory.forms.people import EraseForm, MergeForm, PeopleSearch
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import directory, person_file, persons
from inventory.queries import erasing as erasures
from inventory.queries import merging as merges
from inventory.queries.facts import the_lot
from inventory.queries.persons import Person
from inventory.rules.roles import Act


@require_http_methods(["GET", "POST"])
@staff_page(Act.MERGE_PEOPLE)
def merge_person(request: StaffRequest, kind: str, code: uuid.UUID) -> HttpResponse:
    """Choose the double, see what moves, then do it. The person of the address is the one that goes on."""
    who = persons.person(kind, code=code)
    asked = request.POST if request.method == "POST" else request.GET
    try:
        double = persons.person(kind, code=uuid.UUID(asked["double"])) if asked.get("double") else None
    except ValueError:
        double = None
    if double is None:
        return _choose(request, who)
    try:
        preview = merges.preview(double.row, into=who.row)
    except Refused as problem:
        messages.error(request, str(problem))
        return _choose(request, who)
    return _merge(request, who, preview)


def _choose(request: StaffRequest, who: Person) -> HttpResponse:
    search = PeopleSearch(request.GET)
    search.is_valid()  # what does not fit finds nobody
    text = search.cleaned_data.get("q", "")
    found = [row for row in directory.look_up(who.kind, text=text) if row.pk != who.row.pk]
    likely = directory.doubles_of(who.kind, of=[who.row.pk]).get(who.row.pk, ())
    context = {"who": who, "text": text, "found": found, "likely": likely}
    return render(request, "inventory/people/merge_choose.html", context)


def _merge(request: StaffRequest, who: Person, preview: merges.Preview) -> HttpResponse:
    double = preview.double
    start = {"double": double.code, "version": who.row.version, "double_version": double.version}
    form = MergeForm(request.POST if request.method == "POST" else None, differences=preview.differences, initial=start)
    if request.method == "POST" and form.is_valid():
        versions = {who.row.pk: form.cleaned_data["version"], double.pk: form.cleaned_data["double_version"]}
        row = attempt(
            form,
            lambda: merging.merge(
                who.kind, double_id=double.pk, into_id=who.row.pk, take=form.taken(), versions=versions,
                by=request.actor, at=timezone.now(),
            ),
        )  # fmt: skip
        if row is not None:
            messages.success(request, f"{double.name} was merged into {row.name}.")
            return redirect("person", kind=who.kind, code=row.code)
    context = {"who": who, "preview": preview, "form": form}
    return render(request, "inventory/people/merge.html", context, status=422 if form.errors else 200)


@require_POST
@staff_page(Act.MERGE_PEOPLE)
def export_person(request: StaffRequest, kind: str, code: uuid.UUID) -> HttpResponse:
    """Everything held on a person, as a file to hand out; kept by no cache, and logged."""
    who, at = persons.person(kind, code=code), timezone.now()
    actions.note_export(kind, person_id=who.row.pk, by=request.actor, at=at)
    answer = HttpResponse(person_file.person_zip(who, lot=the_lot().name, at=at), content_type="application/zip")
    answer["Content-Disposition"] = 'attachment; filename="data-held.zip"'
    answer["Cache-Control"] = "no-store"
    return answer


@require_http_methods(["GET", "POST"])
@staff_page(Act.MERGE_PEOPLE)
def erase_person(request: StaffRequest, kind: str, code: uuid.UUID) -> HttpResponse:
    who = persons.person(kind, code=code)
    form = EraseForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        row = attempt(form, lambda: erasing.erase(who.row, by=request.actor, at=timezone.now()))
        if row is not None:
            messages.success(request, f"The data is emptied: now {row.name}.")
            return redirect("person", kind=kind, code=row.code)
    context = {"who": who, "plan": erasures.plan_of(who), "form": form}
    return render(request, "inventory/people/erase.html", context, status=422 if form.errors else 200)
