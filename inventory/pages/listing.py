"""The description of a vehicle for its staff: the draft from the record, what was kept of it, and publishing."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from inventory.actions import describing
from inventory.forms.listing import ListingForm, PublishForm
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import listing as queries
from inventory.queries.pricing_desk import stay_by_number
from inventory.rules.roles import Act


@require_http_methods(["GET", "POST"])
@staff_page(Act.WRITE_LISTING)
def listing(request: StaffRequest, stock_number: str) -> HttpResponse:
    """Keep what was typed, or what the record writes now."""
    stay = stay_by_number(stock_number)
    page = queries.listing_page(stay, number=request.GET.get("version", ""), today=timezone.localdate())
    form = ListingForm(request.POST if request.method == "POST" else None, page=page)
    if form.is_valid() and (row := _kept(request, form, stay=stay)) is not None:
        _tell(request, row)
        return redirect("listing", stock_number=stock_number)
    return _show(request, stay=stay, page=page, form=form)


def _kept(request: StaffRequest, form: ListingForm, *, stay: Any) -> Any:
    given = form.cleaned_data
    lines = None if request.POST.get("do") == "record" else form.lines()
    return attempt(
        form,
        lambda: describing.write_listing(
            stay.pk, tone=given["tone"], lines=lines, after=given["after"], by=request.actor, at=timezone.now()
        ),
    )


def _tell(request: StaffRequest, row: Any) -> None:
    messages.success(request, f"Version {row.number} is kept. Buyers do not see it before it is published.")
    if row.objections:
        messages.warning(request, "Some of it is questioned: see below. It cannot be published like this.")


def _show(
    request: StaffRequest, *, stay: Any, page: queries.ListingPage, form: ListingForm,
    refused: PublishForm | None = None,
) -> HttpResponse:  # fmt: skip
    latest = page.versions[0].number if page.versions else 0
    areas = [(section, form[section.code]) for section in page.sections]
    shown = {
        "stay": stay, "page": page, "form": form, "areas": areas, "here": "listing",
        "refused": refused, "publish": PublishForm(initial={"after": latest}, auto_id=False),
    }  # fmt: skip
    return render(request, "inventory/listing/page.html", shown, status=422 if form.errors or refused else 200)


@require_POST
@staff_page(Act.WRITE_LISTING)
def publish_listing(request: StaffRequest, stock_number: str) -> HttpResponse:
    stay = stay_by_number(stock_number)
    given = PublishForm(request.POST)
    if given.is_valid():
        after = given.cleaned_data["after"]
        row = attempt(
            given, lambda: describing.publish(stay.pk, after=after, by=request.actor, at=timezone.now())
        )  # fmt: skip
        if row is not None:
            messages.success(request, f"Version {row.number} is published: buyers read it now.")
            return redirect("listing", stock_number=stock_number)
    page = queries.listing_page(stay, number="", today=timezone.localdate())
    return _show(request, stay=stay, page=page, form=ListingForm(page=page), refused=given)
