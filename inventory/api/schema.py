"""The API describes itself: how each operation, enumeration and refusal appears in the OpenAPI schema."""

from collections.abc import Callable
from typing import Any, TypeVar

from drf_spectacular.extensions import OpenApiAuthenticationExtension, OpenApiSerializerFieldExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.plumbing import ResolvedComponent
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema
from rest_framework.serializers import BaseSerializer, CharField, DecimalField, Serializer

from inventory.api.filtering import YEARS
from inventory.api.paging import Pages
from inventory.api.serializers.base import LARGEST_ID, Given, Problem, Text

Method = TypeVar("Method", bound=Callable[..., Any])
Shape = type[BaseSerializer[Any]]

PROBLEMS = {
    400: "The body or a parameter was not accepted, or the move is not possible: nothing was written.",
    401: "No session and no known token.",
    403: "The role does not include this.",
    404: "Nothing here that you may see.",
    406: "Only JSON is offered.",
}
WRITE_PROBLEMS = {
    409: "Somebody was faster: `current_version` says where the row is now.",
    413: "The body is larger than a megabyte.",
    415: "The body is not JSON.",
    422: "The Idempotency-Key was used with another request.",
}
_KEY = {"type": "string", "pattern": "^[!-~]([ -~]{0,78}[!-~])?$"}
ONCE = OpenApiParameter(
    "Idempotency-Key", _KEY, OpenApiParameter.HEADER, required=False,
    description="Sent again with the same key, a post is done once; the answer comes with Idempotency-Replayed: true.",
)  # fmt: skip


_YEARS = {"minimum": YEARS["min_value"], "maximum": YEARS["max_value"]}
_ROW = {"minimum": 1, "maximum": LARGEST_ID}
# What the parameters of addresses and lists may be, beyond their type.
BOUNDS: dict[str, dict[str, Any]] = {
    "page": {"minimum": 1}, "page_size": {"minimum": 1, "maximum": Pages.max_page_size},
    "year": {"type": "integer", **_YEARS}, "year_min": _YEARS, "year_max": _YEARS,
    "key": {"pattern": "^[-a-zA-Z0-9_]+$"}, "cursor": {"pattern": "^[-a-zA-Z0-9_]+$"},
    **dict.fromkeys(("offer_id", "charge_id", "request_id", "question_id", "extra_id", "payment_id"), _ROW),
}  # fmt: skip
SAID = r"[^\s\x1c-\x1f\x85]"  # not blank, as Python strips it


class Described(AutoSchema):
    """Adds the problem answers to every operation, and says of fields and parameters what they really take."""

    def _get_parameters(self) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = super()._get_parameters()
        for parameter in found:
            shape = parameter["schema"]
            shape |= BOUNDS.get(parameter["name"], {})
            if parameter["in"] == "query" and shape == {"type": "string"}:
                shape["pattern"] = SAID
        return found

    def _map_basic_serializer(self, serializer: Any, direction: Any) -> Any:
        shape = super()._map_basic_serializer(serializer, direction)  # type: ignore[no-untyped-call]
        return {**shape, "additionalProperties": False} if isinstance(serializer, Given) else shape

    def _map_serializer_field(self, field: Any, direction: Any, bypass_extensions: bool = False) -> Any:
        shape = super()._map_serializer_field(field, direction, bypass_extensions)  # type: ignore[no-untyped-call]
        if not isinstance(shape, dict) or not _is_given(field):
            return shape
        if isinstance(field, DecimalField) and field.max_digits:
            return {**shape, "pattern": _decimal(field)}
        if type(field) in {Text, CharField} and not field.allow_blank:
            return {**shape, "pattern": SAID}
        return shape

    def _get_response_bodies(self, direction: Any = "response") -> Any:
        bodies = super()._get_response_bodies(direction)
        said = PROBLEMS | (WRITE_PROBLEMS if self.method in {"POST", "PATCH", "DELETE"} else {})
        for code, description in said.items():
            bodies[str(code)] = self._get_response_for_code(  # type: ignore[no-untyped-call]
                OpenApiResponse(Problem, description=description), str(code), media_types=["application/problem+json"]
            )
        return bodies

    def _get_request_for_media_type(self, serializer: Any, direction: Any = "request") -> Any:
        """As for a post: our PATCH bodies say themselves what is optional, and `version` never is."""
        method, self.method = self.method, "POST" if self.method == "PATCH" else self.method
        try:
            return super()._get_request_for_media_type(serializer, direction)  # type: ignore[no-untyped-call]
        finally:
            self.method = method

    def get_tags(self) -> list[str]:
        """By the part of the address that names the subject."""
        parts = [part for part in self.path.split("/") if part and not part.startswith("{")]
        return [parts[2]]


def _is_given(field: Any) -> bool:
    """Whether it is part of a body that comes in, be it in a list there."""
    parent = field.parent
    while parent is not None and not isinstance(parent, BaseSerializer):
        parent = parent.parent
    return isinstance(parent, Given)


def _decimal(field: Any) -> str:
    """A number as text: its figures before and after the point, and whether it may be below or at zero."""
    whole, after = field.max_digits - field.decimal_places, field.decimal_places
    if field.min_value is None or field.min_value < 0:
        return rf"^-?[0-9]{{1,{whole}}}(\.[0-9]{{1,{after}}})?$"
    if field.max_value == 100:
        return rf"^(100(\.0{{1,{after}}})?|[0-9]{{1,2}}(\.[0-9]{{1,{after}}})?)$"
    if field.min_value == 0 or field.max_value is not None:
        return rf"^[0-9]{{1,{whole}}}(\.[0-9]{{1,{after}}})?$"
    below_one = "|".join("0" * zeros + rf"[1-9][0-9]{{0,{after - 1 - zeros}}}" for zeros in range(after))
    return rf"^([1-9][0-9]{{0,{whole - 1}}}(\.[0-9]{{1,{after}}})?|0\.({below_one}))$"


def writes(
    given: Shape | None, shown: Shape | BaseSerializer[Any] | None, *, status: int = 201, once: bool = True
) -> Callable[[Method], Method]:
    """Describe one write: the body it takes, the body it answers with, the status."""

    def describe(method: Method) -> Method:
        method.schema = Described()  # type: ignore[attr-defined]
        return extend_schema(request=given, responses={status: shown}, parameters=[ONCE] if once else [])(method)

    return describe


def asks(asked: type[Serializer[Any]], shown: Shape) -> Callable[[Method], Method]:
    """Describe one read that takes parameters."""

    def describe(method: Method) -> Method:
        method.schema = Described()  # type: ignore[attr-defined]
        return extend_schema(parameters=[asked], responses={200: shown})(method)

    return describe


def answers_pdf(method: Method) -> Method:
    """Describe one read that answers with a paper."""
    method.schema = Described()  # type: ignore[attr-defined]
    return extend_schema(responses={(200, "application/pdf"): OpenApiTypes.BINARY})(method)


class WordInSchema(OpenApiSerializerFieldExtension):  # type: ignore[no-untyped-call]
    """Each enumeration is one named component, wherever it is used."""

    target_class = "inventory.api.serializers.base.Word"

    def map_serializer_field(self, auto_schema: AutoSchema, direction: Any) -> Any:
        words = self.target.words
        meaning = "\n".join(f"* `{value}`: {label}" for value, label in words.choices)
        component = ResolvedComponent(  # type: ignore[no-untyped-call]
            name=words.__name__, type=ResolvedComponent.SCHEMA, object=words,
            schema={"type": "string", "enum": list(words.values), "description": meaning},
        )  # fmt: skip
        auto_schema.registry.register_on_missing(component)
        empty = [{"type": "string", "enum": [""]}] if self.target.allow_blank else []
        return {"oneOf": [component.ref, *empty]} if empty else component.ref


class SessionInSchema(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    target_class = "inventory.api.auth.StaffSessionAuthentication"
    name = "session"

    def get_security_definition(self, auto_schema: AutoSchema) -> dict[str, Any]:
        return {"type": "apiKey", "in": "cookie", "name": "sessionid"}


class TokenInSchema(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    target_class = "inventory.api.auth.ApiTokenAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema: AutoSchema) -> dict[str, Any]:
        return {"type": "http", "scheme": "bearer"}
