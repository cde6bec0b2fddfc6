"""The API describes itself: how each operation, enumeration and refusal appears in the OpenAPI schema."""

from collections.abc import Callable
from typing import Any, TypeVar

from drf_spectacular.extensions import OpenApiAuthenticationExtension, OpenApiSerializerFieldExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.plumbing import ResolvedComponent
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema
from rest_framework.serializers import BaseSerializer, Serializer

from inventory.api.serializers.base import Problem

Method = TypeVar("Method", bound=Callable[..., Any])
Shape = type[BaseSerializer[Any]]

PROBLEMS = {
    400: "The body or a parameter was not accepted, or the move is not possible: nothing was written.",
    401: "No session and no known token.",
    403: "The role does not include this.",
    404: "Nothing here that you may see.",
}
WRITE_PROBLEMS = {
    409: "Somebody was faster: `current_version` says where the row is now.",
    415: "The body is not JSON.",
    422: "The Idempotency-Key was used with another request.",
}
ONCE = OpenApiParameter(
    "Idempotency-Key", str, OpenApiParameter.HEADER, required=False,
    description="Sent again with the same key, a post is done once; the answer comes with Idempotency-Replayed: true.",
)  # fmt: skip


class Described(AutoSchema):
    """Adds the problem answers to every operation."""

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
