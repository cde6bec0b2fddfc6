"""Who may open a page, and how a refusal reaches the form it belongs to."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import wraps
from typing import Any, Concatenate, ParamSpec, TypeVar
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import NON_FIELD_ERRORS
from django.forms import BaseForm
from django.http import Http404, HttpRequest, HttpResponseBase, HttpResponseNotAllowed
from django.shortcuts import redirect, render
from django.urls import reverse

from inventory.actions.linking import actor_of
from inventory.errors import NotAllowed, NotFound, Refused
from inventory.metrics import refused
from inventory.pages.by_link import by_link
from inventory.pages.signed_in import SignedOut, note
from inventory.queries.facts import the_lot
from inventory.queries.sign_in import owed_by
from inventory.rules.roles import Act, Actor, require
from inventory.rules.sign_in import Owed

P = ParamSpec("P")
Done = TypeVar("Done")

FORM = ("GET", "HEAD", "POST")
ANY = (*FORM, "PUT", "PATCH", "DELETE", "OPTIONS")


class StaffRequest(HttpRequest):
    """A request of a signed-in member of staff."""

    actor: Actor
    owed: Owed | None


@dataclass(frozen=True)
class Door:
    """What a page asks of whoever comes: for each method it takes one act, or none where it is open to everybody."""

    acts: Mapping[str, Act | None]
    deeds: Mapping[str, Act] = field(default_factory=dict)  # what the deed named in the address asks besides
    by_link: bool = False  # asked of the consignor whose private link it is, not of staff
    why: str = ""  # it is open to everybody

    def asks(self, method: str, *, deed: str = "") -> tuple[Act, ...]:
        """All of them are needed."""
        wanted = (self.acts[method], self.deeds.get(deed))
        return tuple(dict.fromkeys(act for act in wanted if act is not None))


View = Callable[Concatenate[StaffRequest, P], HttpResponseBase]
Page = Callable[..., HttpResponseBase]


STEPS = {Owed.CODE: "sign_in_code", Owed.SET_UP: "set_up_factor"}


def staff_page(
    act: Act, *, post: Act | None = None, put: Act | None = None, delete: Act | None = None,
    deeds: Mapping[Any, Act] | None = None, answers: Owed | None = None,
) -> Callable[[View[P]], Page]:  # fmt: skip
    """Only for staff whose role includes the act; what is not there is a 404, what is not allowed a 403.

    `post` is its act where that is another; `put` and `delete` are not taken without theirs. `deeds` names the further
    act of each deed, where the address has a `deed` in it. Whoever still owes a second factor is led to it, and opens
    only the pages that answer what is owed.
    """
    door = replace(_door(act, POST=post, PUT=put, DELETE=delete), deeds=deeds or {})

    def guard(view: View[P]) -> Page:
        @login_required
        @wraps(view)
        def guarded(request: Any, *args: P.args, **kwargs: P.kwargs) -> HttpResponseBase:
            request.actor = request.user.as_actor()
            try:
                note(request, user_id=request.user.pk)
                request.owed = _owed(request)
                if request.owed not in (None, answers):
                    return _led_to(request)
                for needed in door.asks(request.method, deed=str(kwargs.get("deed", ""))):
                    require(request.actor, needed)
                return view(request, *args, **kwargs)
            except SignedOut:
                return redirect_to_login(request.get_full_path() if request.method == "GET" else "/")
            except NotFound as problem:
                raise Http404(str(problem)) from problem
            except NotAllowed as problem:
                refused(problem.code)
                return render(request, "403.html", {"problem": problem}, status=403)

        return _behind(door, guarded)

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


def link_page(act: Act, *, post: Act | None = None) -> Callable[[Page], Page]:
    """Only for the cookie of this stay's private link; the view is given the link."""
    door = replace(_door(act, POST=post), by_link=True)

    def guard(view: Page) -> Page:
        @by_link
        @wraps(view)
        def guarded(request: HttpRequest, *, link: Any, **kwargs: Any) -> HttpResponseBase:
            for needed in door.asks(str(request.method)):
                require(actor_of(link), needed)
            return view(request, link=link, **kwargs)

        return _behind(door, guarded)

    return guard


def open_page(why: str, *, takes: tuple[str, ...] = FORM) -> Callable[[Page], Page]:
    """For everybody, signed in or not; it says why."""
    door = Door(dict.fromkeys(takes), why=why)
    return lambda view: _behind(door, view)


def _door(act: Act, **others: Act | None) -> Door:
    named = {method: other for method, other in others.items() if other is not None}
    return Door({**dict.fromkeys(FORM, act), **named})


def _behind(door: Door, view: Page) -> Page:
    """A method that the door does not name is not offered, to anybody."""

    @wraps(view)
    def answered(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if request.method not in door.acts:
            return HttpResponseNotAllowed(list(door.acts))
        return view(request, *args, **kwargs)

    answered.door = door  # type: ignore[attr-defined]  # read by the table of routes and roles
    return answered


def attempt(form: BaseForm, deed: Callable[[], Done]) -> Done | None:
    """Do one deed; a refusal goes to its field of the form, and the page is shown again with nothing lost."""
    try:
        return deed()
    except (NotAllowed, NotFound):
        raise
    except Refused as problem:
        refused(problem.code)
        field = problem.field if problem.field in form.fields else None
        if str(problem) not in form.errors.get(field or NON_FIELD_ERRORS, []):  # of many files the same is told once
            form.add_error(field, str(problem))
        return None


def actor_in_templates(request: HttpRequest) -> dict[str, Any]:
    """Every template knows who acts and what the lot is called."""
    user = getattr(request, "user", None)
    signed_in = user is not None and user.is_authenticated and getattr(request, "owed", None) is None
    actor = user.as_actor() if user is not None and signed_in else None
    return {"actor": actor, "lot": getattr(request, "lot", None) or the_lot()}
