"""Forms of the import: the file, and how its columns are read."""

from typing import Any

from django import forms

from inventory.sheets import ELSEWHERE, PAST_SALES, Kind, Preview

WORDS = {
    "ended_on": "sale (or end) date", "vin": "VIN or serial", "color": "colour",
    "vin_reason": "reason of an odd number",
    "source": "where it was told", "sold": "sold or not", "premium": "buyer's premium", "key_tag": "tag on the keys",
    "commission_rate": "commission rate, percent", "floor": "floor (lowest price)",
}  # fmt: skip
CENTURIES = [("", "not said"), ("1900", "19xx"), ("2000", "20xx")]


def wording(column: str) -> str:
    return WORDS.get(column, column.replace("_", " "))


class UploadForm(forms.Form):
    file = forms.FileField(
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.txt,.xlsx"}),
    )

    def __init__(self, *args: Any, kind: Kind[Any] = PAST_SALES, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"].label = f"Spreadsheet of {kind.layout.holds}"
        self.fields[
            "file"
        ].help_text = (
            f"CSV (comma, semicolon or tab) or XLSX, up to 40 MB and {kind.most:,} rows. Nothing is imported yet."
        )


class ReviewForm(forms.Form):
    """One choice for each column of the file, and the answers that the file itself does not give."""

    date_order = forms.ChoiceField(
        label="What 3/4/2021 means",
        required=False,
        choices=[("", "the file shows it"), ("mdy", "March 4 (month first)"), ("dmy", "3 April (day first)")],
    )
    two_digit_years = forms.ChoiceField(label="Century of model years like '69", required=False, choices=CENTURIES)
    two_digit_dates = forms.ChoiceField(label="Century of dates like 3/14/21", required=False, choices=CENTURIES)
    decimal_mark = forms.ChoiceField(
        label="Decimal mark in prices", choices=[(".", "point: 1,234.50"), (",", "comma: 1.234,50")]
    )

    source = forms.CharField(
        label="Where these sales were told",
        help_text="In your own words. For rows that do not say it in a column of their own.",
        required=False,
        max_length=120,
    )

    def __init__(self, *args: Any, seen: Preview, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.headers, self.layout = seen.headers, seen.layout
        if seen.layout is not ELSEWHERE.layout:
            del self.fields["source"]
        found = {header: column for column, header in seen.matched}
        open_headers = {question.about for question in seen.questions if question.asked == "column"}
        choices = [("", "leave out"), *((column, wording(column)) for column in seen.layout.columns)]
        for place, header in enumerate(seen.headers):
            self.fields[f"column_{place}"] = forms.ChoiceField(
                label=header or f"column {place + 1} (no name)",
                required=False,
                choices=choices,
                initial=found.get(header, ""),
                help_text="This one could be several things: choose." if header in open_headers else "",
            )

    def columns(self) -> list[Any]:
        return [self[f"column_{place}"] for place in range(len(self.headers))]

    def answers(self) -> list[Any]:
        asked = ("source", "date_order", "two_digit_years", "two_digit_dates", "decimal_mark")
        return [self[name] for name in asked if name in self.fields]

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        chosen: dict[str, str] = {}
        for place, header in enumerate(self.headers):
            column = said.get(f"column_{place}", "")
            if column and column in chosen:
                self.add_error(
                    f"column_{place}", f"“{chosen[column]}” is the {wording(column)} already: leave one of them out."
                )
            elif column:
                chosen[column] = header
        if "source" in self.fields and "source" not in chosen and not said.get("source"):
            self.add_error("source", "Say where these sales were told, or choose the column that holds it.")
        missing = [wording(column) for column in self.layout.required if column not in chosen]
        if missing:
            self.add_error(None, f"Say which column holds the {', the '.join(missing)}.")
        return said

    def choices(self) -> dict[str, Any]:
        """The answers as they are kept with the upload."""
        said = self.cleaned_data
        by_place = {place: said[f"column_{place}"] for place in range(len(self.headers))}
        return {
            "columns": {column: self.headers[place] for place, column in by_place.items() if column},
            "ignore": [self.headers[place] for place, column in by_place.items() if not column],
            "date_order": said["date_order"],
            "two_digit_years": int(said["two_digit_years"]) if said["two_digit_years"] else None,
            "two_digit_dates": int(said["two_digit_dates"]) if said["two_digit_dates"] else None,
            "decimal_mark": said["decimal_mark"],
            "source": said.get("source", ""),
        }
