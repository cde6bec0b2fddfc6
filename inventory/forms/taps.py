"""Taps as a device sends them: JSON to plain values, each refusal naming what is wrong."""

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.dateparse import parse_datetime

from inventory.errors import Refused
from inventory.forms.walk import answer_values
from inventory.rules.words import Basis, EngineState, Verdict

MOST_TAPS = 200
_ANSWERS = {"0", "1", "2", "3", "4", Verdict.NOT_SEEN, Verdict.DELETED_ON_PURPOSE, Verdict.NOT_FITTED_WHEN_NEW}


class _TapForm(forms.Form):
    key = forms.UUIDField()
    inspection = forms.IntegerField(min_value=1, max_value=10_000)
    made_at = forms.CharField(max_length=40)
    check_code = forms.CharField(max_length=60, required=False)
    answer = forms.ChoiceField(choices=[(answer, answer) for answer in sorted(_ANSWERS)], required=False)
    basis = forms.ChoiceField(choices=[(word, word) for word in Basis.values], required=False)
    reading = forms.DecimalField(max_digits=10, decimal_places=3, required=False)
    compared_with = forms.DecimalField(max_digits=10, decimal_places=3, min_value=0, required=False)
    note = forms.CharField(max_length=500, required=False)
    station = forms.CharField(max_length=40, required=False)
    engine = forms.ChoiceField(choices=EngineState.choices, required=False)


@dataclass(frozen=True)
class TapRead:
    """One tap in plain values: a finding, or a visit."""

    key: uuid.UUID
    inspection: int
    made_at: datetime
    finding: dict[str, Any] | None = None
    visit: dict[str, str] | None = None


@dataclass(frozen=True)
class BadTap:
    """A tap that cannot be read, and why; its key names it on the device."""

    key: uuid.UUID
    problem: str


@dataclass(frozen=True)
class TapsRead:
    device: str
    user: int
    sent_at: datetime
    taps: list[TapRead]
    bad: list[BadTap]


def read_taps(given: Any) -> TapsRead:
    """The whole parcel. What is wrong with the parcel itself is refused; a bad tap is told by itself."""
    if not isinstance(given, Mapping) or not isinstance(given.get("taps"), list):
        raise _bad("taps", type(given).__name__, mend="Send an object with device, user, sent_at and a list of taps.")
    if len(given["taps"]) > MOST_TAPS:
        raise _bad("taps", len(given["taps"]), mend=f"Send at most {MOST_TAPS} at once.")
    device, user = given.get("device"), given.get("user")
    if not isinstance(device, str) or not 1 <= len(device) <= 36:
        raise _bad("device", device, mend="Name the device in 1 to 36 characters.")
    if isinstance(user, bool) or not isinstance(user, int):
        raise _bad("user", user, mend="Name the user by number.")
    sent_at = _moment(given.get("sent_at"), field="sent_at")
    read = [_tap(one, place=place) for place, one in enumerate(given["taps"])]
    taps = [one for one in read if isinstance(one, TapRead)]
    return TapsRead(device, user, sent_at, taps, [one for one in read if isinstance(one, BadTap)])


def _tap(given: Any, *, place: int) -> TapRead | BadTap:
    key = _key(given.get("key")) if isinstance(given, Mapping) else None
    if key is None:
        raise _bad(f"taps[{place}].key", given, mend="Give each tap a key of its own (a UUID).")
    form = _TapForm({name: value for name, value in given.items() if value is not None})
    if not form.is_valid():
        field, errors = next(iter(form.errors.items()))
        return BadTap(key, f"{field} is {given.get(field)!r}: {errors[0]}")
    said = form.cleaned_data
    try:
        made_at = _moment(said["made_at"], field="made_at")
    except Refused as problem:
        return BadTap(key, str(problem))
    if said["station"]:
        visit = {"station": said["station"], "engine": said["engine"]}
        return TapRead(key, said["inspection"], made_at, visit=visit)
    if not said["answer"]:
        return BadTap(key, "answer is missing: choose a grade, or say why there is none.")
    return TapRead(key, said["inspection"], made_at, finding=_finding(said))


def _finding(said: Mapping[str, Any]) -> dict[str, Any]:
    unseen = said["answer"] == Verdict.NOT_SEEN
    reading: Decimal | None = None if unseen else said["reading"]
    return {
        "check_code": said["check_code"],
        **answer_values(said["answer"]),
        "basis": Basis.NOT_ESTABLISHED if unseen else said["basis"] or Basis.SEEN,
        "reading": reading,
        "compared_with": None if unseen else said["compared_with"],
        "note": said["note"],
    }


def _key(given: Any) -> uuid.UUID | None:
    try:
        return uuid.UUID(given) if isinstance(given, str) else None
    except ValueError:
        return None


def _moment(given: Any, *, field: str) -> datetime:
    try:
        moment = parse_datetime(given) if isinstance(given, str) else None
    except ValueError:
        moment = None  # a well-formed text that is no moment: 2026-02-30T25:00Z
    if moment is None or moment.tzinfo is None:
        raise _bad(field, given, mend="Give a moment with its zone, such as 2026-03-14T15:09:26Z.")
    return moment


def _bad(field: str, got: Any, *, mend: str) -> Refused:
    return Refused("bad_value", f"{field} is {got!r}.", field=field, got=str(got), mend=mend)
