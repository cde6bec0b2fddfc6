"""A consignor who is known already, found by a word instead of in a list of all there are."""

from collections.abc import Sequence
from typing import Any

from django import forms

from inventory.rules.people import MOST_OFFERED

Choices = Sequence[tuple[int, str]]


class KnownConsignorForm(forms.Form):
    """The page looks up whom the typed word fits, and the same form comes back with these to choose from."""

    known = forms.CharField(
        label="Find a known consignor", required=False, max_length=100,
        help_text="Part of the name, e-mail or phone. The form comes back with whom it fits. Empty for somebody new.",
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
    )  # fmt: skip
    consignor_id = forms.TypedChoiceField(label="Known consignor", required=False, coerce=int, empty_value=None)

    NEW: str  # what stands first among the choices
    NOBODY: str  # said where nobody is chosen or given
    NEW_FIELDS: tuple[str, ...]  # who is new is given here, the name first

    def __init__(self, *args: Any, consignors: Choices, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.found = len(consignors)
        self.fields["consignor_id"].choices = [("", self.NEW), *consignors]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        super().clean()
        given = self.cleaned_data
        if not {"known", "consignor_id", self.NEW_FIELDS[0]} & set(self.errors):
            self._one_person(given, new=[name for name in self.NEW_FIELDS if given.get(name)])
        given.pop("known", None)  # it only finds whom to choose
        return given

    def _told(self, sought: str) -> str:
        if self.found < MOST_OFFERED:
            return f"“{sought}” fits {self.found} here. Choose who it is."
        return f"“{sought}” fits many: the first {self.found} are here. Choose who it is, or type more of it."

    def _one_person(self, given: dict[str, Any], *, new: list[str]) -> None:
        chosen, sought = given.get("consignor_id"), given.get("known")
        if chosen is not None and new:
            self.add_error("consignor_id", "A known consignor is chosen and a new one is given. Keep one of the two.")
        elif chosen is None and sought and new:
            self.add_error("known", "A known consignor is looked for and a new one is given. Empty one of the two.")
        elif chosen is None and sought and self.found:
            self.add_error("consignor_id", self._told(sought))
        elif chosen is None and sought:
            self.add_error("known", f"“{sought}” fits no known consignor. Type less of it, or give a new one.")
        elif chosen is None and self.NEW_FIELDS[0] not in new:
            self.add_error(self.NEW_FIELDS[0], self.NOBODY)
