"""What all views share: who calls, the consignment in the address, a checked body, an answer given once."""

import hashlib
import json
from collections.abc import Callable
from datetime import datetime
from functools import cached_property
from typing import Any, Never

from django.core.exceptions import ImproperlyConfigured
from django.db.models import QuerySet
from django.utils import timezone
from rest_framework import exceptions
from rest_framework.generics import ListAPIView, RetrieveAPIView
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import BaseSerializer
from rest_framework.views import APIView

from inventory.actions.repeating import once
from inventory.api.auth import actor_of
from inventory.api.filtering import KnownParameters, Sorting
from inventory.api.parsing import StrictJSONParser
from inventory.api.schema import Described
from inventory.queries import records
from inventory.rules.roles import Act, Actor, require

Shape = type[BaseSerializer[Any]]


class Guarded(APIView):
    """A view that names the act that each of its methods takes: asked before anything is looked up or read."""

    acts: dict[str, Act] = {}
    metadata_class = None
    signs_in = False  # made for a browser: whoever is not signed in is sent to do so

    @classmethod
    def as_view(cls, **given: Any) -> Any:
        """A method without an act stops the start, and so does an act without a method."""
        offered = {name for name in cls.http_method_names if hasattr(cls, name)} - {"head", "options"}
        if unnamed := offered ^ cls.acts.keys():
            raise ImproperlyConfigured(f"{cls.__name__} must name one act for each method, see {sorted(unnamed)}.")
        return super().as_view(**given)

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        method = str(request.method).lower()
        if act := self.acts.get("get" if method == "head" else method):
            require(self.by, act)

    @property
    def by(self) -> Actor:
        return actor_of(self.request)


class Answering(Guarded):
    """A view that asks queries, calls one action at most, and answers."""

    parser_classes = [StrictJSONParser]
    schema = Described()

    @property
    def at(self) -> datetime:
        return timezone.now()

    @cached_property
    def stay(self) -> Any:
        """The consignment in the address, as far as the caller may see it."""
        return records.consignment(self.kwargs["stock_number"], by=self.by)

    def given(self, shape: Shape) -> dict[str, Any]:
        """The body as typed values; only what was given is in it."""
        body = shape(data=self.request.data)
        body.is_valid(raise_exception=True)
        return dict(body.validated_data)

    def asked(self, shape: Shape) -> dict[str, Any]:
        """The parameters as typed values; one that is not known is refused by name."""
        parameters = shape(data=self.request.query_params.dict(), context={"in_text": True})
        parameters.is_valid(raise_exception=True)
        return dict(parameters.validated_data)

    def done(self, shape: Callable[[Any], Any], do: Callable[[], Any], *, status: int = 201) -> Response:
        """Do the work and answer with the row it made: once, where the post carries an Idempotency-Key."""

        def work() -> tuple[int, Any]:
            return status, shape(do()).data

        key = self.request.headers.get("Idempotency-Key")
        if key is None:
            code, body = work()
            return Response(body, status=code)
        found = once(key, actor=self.by, fingerprint=_fingerprint(self.request, by=self.by), at=self.at, do=work)
        headers = {"Idempotency-Replayed": "true"} if found.replayed else {}
        return Response(found.answer, status=found.status, headers=headers)

    def stay_after(self, do: Callable[[], Any]) -> Callable[[], Any]:
        """Do the work, then read the consignment afresh: with its new state and version."""

        def work() -> Any:
            do()
            return records.consignment(self.kwargs["stock_number"], by=self.by)

        return work


def _fingerprint(request: Request, *, by: Actor) -> str:
    """The very same request by the same role has the same one."""
    what = [by.role, request.method, request.path, request.data]
    return hashlib.sha256(json.dumps(what, sort_keys=True).encode()).hexdigest()


class Rows(Answering, ListAPIView[Any]):
    """One page of a list."""

    filter_backends = [KnownParameters, Sorting]
    orderings: dict[str, str] = {}

    def rows(self) -> QuerySet[Any]:
        raise NotImplementedError

    def get_queryset(self) -> QuerySet[Any]:
        if getattr(self, "swagger_fake_view", False):  # the schema is made without a caller
            shape: Any = self.serializer_class
            return shape.Meta.model._default_manager.none()  # type: ignore[no-any-return]
        return self.rows()


class OneRow(Answering, RetrieveAPIView[Any]):
    """One row."""

    filter_backends = []
    pagination_class = None

    def row(self) -> Any:
        raise NotImplementedError

    def get_object(self) -> Any:
        return self.row()


class NoSuchAddress(Answering):
    """Whatever address is not known."""

    schema = None  # type: ignore[assignment]

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> Never:
        super().initial(request, *args, **kwargs)
        raise exceptions.NotFound("There is no such address here. Addresses end with a slash.")
