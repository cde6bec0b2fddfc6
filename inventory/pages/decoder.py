"""The lot's own decoder table: looked through, added to, corrected."""

from django.contrib import messages
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.actions import decoding
from inventory.actions.decoding import Meaning
from inventory.forms.decoder import DecoderSearch, MeaningForm, initial_of
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import decoder as queries
from inventory.rules.roles import Act


@require_safe
@staff_page(Act.SEE_LOT)
def decoder(request: StaffRequest) -> HttpResponse:
    return _show(request, form=MeaningForm())


def _show(request: StaffRequest, *, form: MeaningForm) -> HttpResponse:
    search = DecoderSearch(request.GET)
    text = search.cleaned_data["q"] if search.is_valid() else ""
    page, entries = queries.decoder_page(text, number=request.GET.get("page", "1"))
    shown = {"search": search, "text": text, "page": page, "entries": entries, "form": form}
    return render(request, "inventory/decoder/page.html", shown)


@staff_page(Act.RECORD_FACTS)
def add_meaning(request: StaffRequest) -> HttpResponse:
    if request.method != "POST":  # whoever signs in anew after sending the form comes back by GET
        return redirect("decoder")
    form = MeaningForm(request.POST)
    if form.is_valid():
        said = Meaning(**form.values())
        if attempt(form, lambda: decoding.add_meaning(said, by=request.actor, at=timezone.now())) is not None:
            messages.success(request, f"“{said.written}” is in the table.")
            return redirect("decoder")
    return _show(request, form=form)


@staff_page(Act.RECORD_FACTS)
def correct_meaning(request: StaffRequest, entry_id: int) -> HttpResponse:
    row = queries.entry(entry_id)
    form = MeaningForm(request.POST or None, initial=initial_of(row))
    if form.is_valid():
        said = Meaning(**form.values())
        done = attempt(form, lambda: decoding.correct_meaning(row.pk, said=said, by=request.actor, at=timezone.now()))
        if done is not None:
            messages.success(request, f"“{said.written}” is corrected; the entry before it stays in the log.")
            return redirect("decoder")
    return render(request, "inventory/decoder/correct.html", {"row": row, "form": form})


@staff_page(Act.RECORD_FACTS)
def retire_meaning(request: StaffRequest, entry_id: int) -> HttpResponse:
    if request.method != "POST":
        return redirect("decoder")
    row, form = queries.entry(entry_id), Form(request.POST)
    if attempt(form, lambda: decoding.retire_meaning(row.pk, by=request.actor, at=timezone.now())) is not None:
        messages.success(request, f"“{row.written}” is out of use.")
    for told in form.non_field_errors():
        messages.error(request, str(told))
    return redirect("decoder")
