"""Who may open a page, and how a refusal reaches the form it belongs to."""

from collections.abc import Callable
from functools import wraps
from typing import Any, Concatenate, ParamSpec, TypeVar
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.contrib.auth.views import redirect_to_login
from django.forms import BaseForm
from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse

from inventory.errors import NotAllowed, NotFound, Refused
from inventory.pages.signed_in import SignedOut, note
from inventory.queries.facts import the_lot
from inventory.queries.sign_in import owed_by
from inventory.rules.roles import Act, Actor, require
from inventory.rules.sign_in import Owed

P = ParamSpec("P")
Done = TypeVar("Done")


class StaffRequest(HttpRequest):
    """A request of a signed-in member of staff."""

    actor: Actor
    owed: Owed | None


View = Callable[Concatenate[StaffRequest, P], HttpResponseBase]


STEPS = {Owed.CODE: "sign_in_code", Owed.SET_UP: "set_up_factor"}


def staff_page(act: Act, *, answers: Owed | None = None) -> Callable[[View[P]], Callable[..., HttpResponseBase]]:
    """Only for staff whose role includes `act`; what is not there is a 404, what is not allowed a 403.

    Whoever still owes a second factor is led to it, and opens only the pages that answer what is owed.
    """

    def guard(view: View[P]) -> Callable[..., HttpResponseBase]:
        @login_required
        @wraps(view)
        def guarded(request: Any, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
            request.actor = request.user.as_actor()
            try:
                note(request, user_id=request.user.pk)
                request.owed = _owed(request)
                if request.owed not in (None, answers):
                    return _led_to(request)
                require(request.actor, act)
                return view(request, *args, **kwargs)
            except SignedOut:
                return redirect_to_login(request.get_full_path() if request.method == "GET" else "/")
            except NotFound as problem:
                raise Http404(str(problem)) from problem
            except NotAllowed as problem:
                return render(request, "403.html", {"problem": problem}, status=403)

        guarded.act = act  # type: ignore[attr-defined]  # read by the table of routes and roles
        return guarded

    return guard


def _owed(request: Any) -> Owed | None:
    if not request.user.has_second_factor:
        request.lot = the_lot()  # read once for the page
    return owed_by(request.user, lot=getattr(request, "lot", None))


def _led_to(request: Any) -> HttpResponseBase:
    """A page that was asked for is come back to; what was sent is not kept."""
    step = reverse(STEPS[request.owed])
    if request.method != "GET":
        return redirect(step)
    return redirect(f"{step}?{urlencode({'next': request.get_full_path()})}")


def attempt(form: BaseForm, deed: Callable[[], Done]) -> Done | None:
    """Do one deed; a refusal goes to its field of the form, and the page is shown again with nothing lost."""
    try:
        return deed()
    except (NotAllowed, NotFound):
        raise
    except Refused as problem:
        form.add_error(problem.field if problem.field in form.fields else None, str(problem))
        return None


def actor_in_templates(request: HttpRequest) -> dict[str, Any]:
    """Every template knows who acts and what the lot is called."""
    user = getattr(request, "user", None)
    signed_in = user is not None and user.is_authenticated and getattr(request, "owed", None) is None
    actor = user.as_actor() if user is not None and signed_in else None
    return {"actor": actor, "lot": getattr(request, "lot", None) or the_lot()}
