"""Inquiries to follow up: the list, and one inquiry with what came of it."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_safe

from inventory.actions import inquiring
from inventory.forms.follow_ups import FollowUpForm
from inventory.pages.access import StaffRequest, attempt, staff_page
from inventory.queries import follow_ups as queries
from inventory.rules.roles import Act


@require_safe
@staff_page(Act.LOG_INQUIRY)
def follow_ups(request: StaffRequest) -> HttpResponse:
    shown = queries.follow_up_page(place=request.GET.get("place", ""), today=timezone.localdate())
    return render(
        request, "inventory/follow_ups/list.html", {"shown": shown, "piece": shown.piece, "tab": "follow_ups"}
    )


@staff_page(Act.LOG_INQUIRY)
def follow_up(request: StaffRequest, inquiry_id: int) -> HttpResponse:
    seen = queries.inquiry_seen(inquiry_id, today=timezone.localdate())
    sent = request.POST or None
    form = FollowUpForm(sent)
    if sent and form.is_valid():
        said = form.cleaned_data
        done = attempt(
            form, lambda: inquiring.log_follow_up(inquiry_id, **said, by=request.actor, at=timezone.now())
        )  # fmt: skip
        if done is not None:
            again = f"It comes up again on {done.next_on}." if done.next_on else "It is done."
            messages.success(request, f"The follow-up is logged. {again}")
            return redirect("follow_ups")
    shown = {"seen": seen, "stay": seen.line.row.consignment, "form": form, "here": "", "tab": "follow_ups"}
    return render(request, "inventory/follow_ups/page.html", shown, status=422 if sent else 200)
