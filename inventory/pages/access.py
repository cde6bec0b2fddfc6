"""Who may open a page, and how a refusal reaches the form it belongs to."""

from collections.abc import Callable
from functools import wraps
from typing import Any, Concatenate, ParamSpec, TypeVar

from django.contrib.auth.decorators import login_required
from django.forms import BaseForm
from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import render

from inventory.errors import NotAllowed, NotFound, Refused
from inventory.queries.facts import the_lot
from inventory.rules.roles import Act, Actor, require

P = ParamSpec("P")
Done = TypeVar("Done")


class StaffRequest(HttpRequest):
    """A request of a signed-in member of staff."""

    actor: Actor


View = Callable[Concatenate[StaffRequest, P], HttpResponseBase]


def staff_page(act: Act) -> Callable[[View[P]], Callable[..., HttpResponseBase]]:
    """Only for staff whose role includes `act`; what is not there is a 404, what is not allowed a 403."""

    def guard(view: View[P]) -> Callable[..., HttpResponseBase]:
        @login_required
        @wraps(view)
        def guarded(request: Any, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
            request.actor = request.user.as_actor()
            try:
                require(request.actor, act)
                return view(request, *args, **kwargs)
            except NotFound as problem:
                raise Http404(str(problem)) from problem
            except NotAllowed as problem:
                return render(request, "403.html", {"problem": problem}, status=403)

        guarded.act = act  # type: ignore[attr-defined]  # read by the table of routes and roles
        return guarded

    return guard


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
    actor = user.as_actor() if user is not None and user.is_authenticated else None
    return {"actor": actor, "lot": the_lot()}
