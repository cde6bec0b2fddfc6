"""Parts of the terms that people write one a line: steps of the ask, who bears which charge, the payees."""

import re
from collections.abc import Sequence
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms

from inventory.errors import Refused
from inventory.rules import money
from inventory.rules.words import BornBy, ChargeKind

STEPS_HOW = "Write each step on its own line, such as “after 60 days: 42,000”."
RULES_HOW = (
    "Write each kind on its own line, such as “repair: consignor up to 500”, “transport: consignor” or "
    "“photography: lot”."
)
PAYEES_HOW = "Write each payee on their own line with a share in percent, such as “Ada Fenwick: 50”."


class LinesInput(forms.CharField):
    """Lines of one shape. Becomes a tuple of what `line` reads out of each; a line that cannot be read is named."""

    how = ""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("help_text", self.how)
        super().__init__(required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 3}), **kwargs)

    def to_python(self, value: Any) -> Any:
        lines = [" ".join(line.split()) for line in str(super().to_python(value) or "").splitlines()]
        return tuple(self._read(line, number=number) for number, line in enumerate(lines, start=1) if line)

    def _read(self, line: str, *, number: int) -> Any:
        try:
            read = self.line(line)
        except (Refused, InvalidOperation, ValueError) as problem:
            raise forms.ValidationError(f"Line {number}: {problem}", code="line") from problem
        if read is None:
            raise forms.ValidationError(f"Line {number}, “{line}”, cannot be read. {self.how}", code="line")
        return read

    def line(self, text: str) -> Any:
        raise NotImplementedError

    def show(self, item: Any) -> str:
        raise NotImplementedError

    def prepare_value(self, value: Any) -> Any:
        return value if value is None or isinstance(value, str) else "\n".join(self.show(item) for item in value)


class StepsInput(LinesInput):
    how = STEPS_HOW
    _LINE = re.compile(r"(?:after )?(?P<days>[0-9]{1,4}) days? ?: ?(?P<ask>.+)", re.IGNORECASE)

    def line(self, text: str) -> Any:
        typed = self._LINE.fullmatch(text)
        return None if typed is None else (int(typed["days"]), money.parse(typed["ask"], field="step_downs"))

    def show(self, item: Sequence[Any]) -> str:
        return f"after {item[0]} days: {money.plain(item[1])}"


class ChargeRulesInput(LinesInput):
    how = RULES_HOW
    _LINE = re.compile(r"(?P<kind>[a-z ]+?) ?: ?(?:the )?(?P<by>consignor|lot)(?:,? up to (?P<cap>.+))?", re.IGNORECASE)
    _KINDS = {label.casefold(): value for value, label in ChargeKind.choices} | {
        value.casefold(): value for value in ChargeKind.values
    }

    def line(self, text: str) -> Any:
        typed = self._LINE.fullmatch(text)
        if typed is None:
            return None
        kind = self._KINDS.get(typed["kind"].casefold())
        if kind is None:
            raise ValueError(f"“{typed['kind']}” is no kind of charge. The kinds are {', '.join(ChargeKind.labels)}.")
        cap = None if typed["cap"] is None else money.parse(typed["cap"], field="charge_rules")
        return kind, BornBy(typed["by"].lower()).value, cap

    def show(self, item: Sequence[Any]) -> str:
        cap = "" if item[2] is None else f" up to {money.plain(item[2])}"
        return f"{ChargeKind(item[0]).label}: {item[1]}{cap}"


class PayeesInput(LinesInput):
    how = PAYEES_HOW
    _LINE = re.compile(r"(?P<name>.+?) ?: ?(?P<percent>[0-9]+(?:\.[0-9]+)?) ?%?")

    def line(self, text: str) -> Any:
        typed = self._LINE.fullmatch(text)
        return None if typed is None else (typed["name"].strip(), Decimal(typed["percent"]))

    def show(self, item: Sequence[Any]) -> str:
        return f"{item[0]}: {item[1].normalize():f}"
