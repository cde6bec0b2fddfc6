"""All weights of condition and originality in one form, folded by station."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django import forms

from inventory.forms.versioned import VersionedForm
from inventory.rules.catalogue import STATIONS
from inventory.rules.policy import FIXED, PARTS, Part, field_of


@dataclass(frozen=True)
class Group:
    """Fields that are shown together: a station's checks, or one part of the weights."""

    title: str
    means: str
    fields: list[forms.BoundField]
    changed: int  # how many are not as they are in force

    @property
    def wrong(self) -> bool:
        return any(field.errors for field in self.fields)


class PolicyForm(VersionedForm):
    """Every weight by its name, the version they were read from, and what was looked at before (`previewed`)."""

    previewed = forms.CharField(required=False, max_length=16, widget=forms.HiddenInput)
    reason = forms.CharField(
        label="Why they are changed", required=False, max_length=500, widget=forms.Textarea(attrs={"rows": 2}),
        help_text="It stays with the version, for whoever asks later.",
    )  # fmt: skip

    def __init__(self, sent: Any = None, *, weights: Mapping[str, Any], version: int) -> None:
        super().__init__(sent, initial={"version": version})
        for part in PARTS.values():
            for code in part.titles:
                if (part.code, code) not in FIXED:
                    self.fields[field_of(part.code, code)] = _weight(part, code, figure=weights[part.code][code])

    def weights(self) -> dict[str, dict[str, int | None]]:
        """The parts that a lot may set, as typed."""
        given = self.cleaned_data
        return {
            part.code: {
                code: FIXED.get((part.code, code), given.get(field_of(part.code, code))) for code in part.titles
            }
            for part in PARTS.values()
        }

    def groups(self) -> list[Group]:
        stations = [
            self._group(station.title, "", [field_of("checks", check.code) for check in station.checks])
            for station in STATIONS
        ]
        others = [
            self._group(
                part.title, f"{part.means} {part.rises}".strip(),
                [field_of(part.code, code) for code in part.titles if (part.code, code) not in FIXED],
            )
            for part in PARTS.values() if part.code != "checks"
        ]  # fmt: skip
        return [*stations, *others]

    def _group(self, title: str, means: str, names: list[str]) -> Group:
        changed = set(names).intersection(self.changed_data) if self.is_bound else ()
        return Group(title, means, [self[name] for name in names], len(changed))


def _weight(part: Part, code: str, *, figure: int) -> forms.IntegerField:
    attrs = {"inputmode": "numeric", "min": 0, "max": part.most, "autocomplete": "off"}
    return forms.IntegerField(label=part.titles[code], initial=figure, widget=forms.NumberInput(attrs=attrs))
