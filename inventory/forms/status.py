"""The form by which staff make and revoke a consignor's private link, and the consignor's own forms behind it."""

from typing import Any

from django import forms

from inventory.forms.versioned import SeenForm
from inventory.rules.words import MessageKind

MAKE, REVOKE = "make", "revoke"
AGREE, DECLINE = "agree", "decline"


class LinkForm(SeenForm):
    do = forms.ChoiceField(label="What to do", choices=[(MAKE, "Make a new link"), (REVOKE, "Revoke the link")])


class AgreeForm(SeenForm):
    """The answer to one question, with the text that was on the page."""

    text = forms.CharField(
        widget=forms.HiddenInput, max_length=4000, strip=False,
        error_messages={"required": "The page does not say what was on it. Read it again, then answer."},
    )  # fmt: skip
    given_by = forms.CharField(
        label="Your full name", max_length=120, widget=forms.TextInput(attrs={"autocomplete": "name"}),
        help_text="Typed here it stands as your signature.",
        error_messages={"required": "Type your full name: it says who answers."},
    )  # fmt: skip
    read = forms.BooleanField(label="I have read the text above", required=False)
    do = forms.ChoiceField(
        choices=[(AGREE, "Agree"), (DECLINE, "Decline")], widget=forms.HiddenInput,
        error_messages={"required": "Choose to agree or to decline."},
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        if given.get("do") == AGREE and not given.get("read"):
            self.add_error("read", "Tick that you have read it, or decline.")
        return given

    def said(self) -> dict[str, Any]:
        given = self.cleaned_data
        return {"agreed": given["do"] == AGREE, "given_by": given["given_by"], "text": given["text"]}


class QuestionForm(SeenForm):
    text = forms.CharField(
        label="Your question to the lot", max_length=1000, widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Write what you want to know."},
    )  # fmt: skip


class MailForm(SeenForm):
    wanted = forms.MultipleChoiceField(
        label="Send me mail about", required=False, widget=forms.CheckboxSelectMultiple,
        choices=[(kind.value, kind.label[:1].upper() + kind.label[1:]) for kind in MessageKind
                 if kind is not MessageKind.CONSENT],
        help_text="Questions that need your agreement are always sent. It counts for all your vehicles here.",
    )  # fmt: skip


def mail_first(off: frozenset[str]) -> list[str]:
    """The kinds that are ticked at first."""
    return [kind for kind in MessageKind.values if kind not in off]
