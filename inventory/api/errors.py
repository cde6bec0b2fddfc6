"""Every refusal as problem details (RFC 9457) that name the field."""

from typing import Any

from django.core.exceptions import PermissionDenied
from django.core.exceptions import ValidationError as ModelInvalid
from django.db import IntegrityError
from django.http import Http404
from rest_framework import exceptions, status
from rest_framework.response import Response

from inventory.actions.repeating import KeyReused
from inventory.errors import NotAllowed, NotFound, Refused, TooLate
from inventory.logs import request_id
from inventory.metrics import refused

STATUS_OF = {NotAllowed: 403, NotFound: 404, TooLate: 409, KeyReused: 422}
LOST_RACE = "Somebody changed this at the same moment. Look again."
TITLES = {
    400: "The request was not accepted.",
    401: "Sign in or give a token.",
    403: "Not allowed.",
    404: "Nothing here.",
    405: "This method is not offered here.",
    406: "Only JSON is offered.",
    409: "Somebody else was faster.",
    413: "Too large.",
    415: "Send JSON.",
    422: "This key was used before.",
    429: "Too many requests.",
    500: "Something broke on our side.",
    503: "Not able to answer now.",
}


def answer(problem: Exception, context: dict[str, Any]) -> Response | None:
    """DRF's exception handler: one shape for all errors; None lets a defect be a 500."""
    if isinstance(problem, Refused):
        refused(problem.code)
        code = STATUS_OF.get(type(problem), 400)
        return _problem(code, [_error(problem.code, problem.field, str(problem))], got=problem.got)
    if isinstance(problem, ModelInvalid):
        return _problem(400, _model_errors(problem))
    if isinstance(problem, IntegrityError):
        # The rules were checked before the write, so only a lost race ends here.
        return _problem(409, [_error("lost_race", "", LOST_RACE)])
    if isinstance(problem, Http404):
        return _problem(404, [_error("not_found", "", "Nothing here that you may see.")])
    if isinstance(problem, PermissionDenied):
        return _problem(403, [_error("not_allowed", "", "You may not do this.")])
    if isinstance(problem, exceptions.ValidationError):
        return _problem(400, _field_errors(problem.get_full_details()))
    if isinstance(problem, exceptions.APIException):
        errors = [_error(str(problem.get_codes()), "", str(problem.detail))]
        response = _problem(problem.status_code, errors)
        if header := getattr(problem, "auth_header", None):
            response["WWW-Authenticate"] = header
        if wait := getattr(problem, "wait", None):
            response["Retry-After"] = str(int(wait))
        return response
    return None


def _error(code: str, field: str, message: str) -> dict[str, str]:
    return {"code": code, "field": field, "message": message}


def problem_details(code: int, errors: list[dict[str, str]]) -> dict[str, Any]:
    """The body of every error, with the number under which the log tells of it."""
    return {
        "type": "about:blank",
        "title": TITLES.get(code, "Not accepted."),
        "status": code,
        "detail": " ".join(error["message"] for error in errors),
        "errors": errors,
        "request": request_id(),
    }


def _problem(code: int, errors: list[dict[str, str]], *, got: Any = None) -> Response:
    body = problem_details(code, errors)
    if code == status.HTTP_409_CONFLICT and isinstance(got, int):
        body["current_version"] = got
    return Response(body, status=code, content_type="application/problem+json")


def _model_errors(problem: ModelInvalid) -> list[dict[str, str]]:
    if not hasattr(problem, "error_dict"):
        return [_error("invalid", "", message) for message in problem.messages]
    return [
        _error("invalid", "" if field == "__all__" else field, message)
        for field, messages in problem.message_dict.items()
        for message in messages
    ]


def _field_errors(details: Any, *, field: str = "") -> list[dict[str, str]]:
    """Flat errors with the way to their field: `tiers.1.rate`."""
    if isinstance(details, dict) and set(details) == {"message", "code"} and isinstance(details["code"], str):
        return [_error(details["code"], field, str(details["message"]))]
    if isinstance(details, dict):
        return [
            error
            for name, inner in details.items()
            for error in _field_errors(inner, field=_path(field, "" if name == "non_field_errors" else str(name)))
        ]
    if any(isinstance(inner, dict) and set(inner) != {"message", "code"} for inner in details):
        return [
            error
            for place, inner in enumerate(details)
            for error in _field_errors(inner, field=_path(field, str(place)))
        ]
    return [error for inner in details for error in _field_errors(inner, field=field)]


def _path(*names: str) -> str:
    return ".".join(filter(None, names))
