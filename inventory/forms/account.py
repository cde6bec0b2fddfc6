"""Signing in, and a password of one's own."""

from django import forms
from django.contrib.auth.forms import AuthenticationForm

WRONG = "User name and password do not match, or this person may not sign in any more."


class SignInForm(AuthenticationForm):
    """The same answer for an unknown name, a wrong password and a person who left: strangers learn nothing."""

    error_messages = {"invalid_login": WRONG, "inactive": WRONG}
    username = forms.CharField(
        label="User name",
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none", "autofocus": True}),
    )


class ChangePasswordForm(forms.Form):
    old = forms.CharField(
        label="Password until now",
        strip=False,
        max_length=200,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
    new = forms.CharField(
        label="New password",
        help_text="At least 10 characters, and not a common one. A few words in a row are good.",
        strip=False,
        max_length=200,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    again = forms.CharField(
        label="New password once more",
        strip=False,
        max_length=200,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def clean_again(self) -> str:
        again: str = self.cleaned_data["again"]
        if again != self.cleaned_data.get("new", again):
            raise forms.ValidationError("The two new passwords differ. Type them again.", code="differs")
        return again


class CodeForm(forms.Form):
    """The step after the password."""

    code = forms.CharField(
        label="Code",
        help_text="Six digits that your authenticator app shows now, or one of your recovery codes.",
        max_length=20,
        widget=forms.TextInput(
            attrs={"autocomplete": "one-time-code", "autocapitalize": "none", "spellcheck": "false"}
        ),
    )  # fmt: skip


class ConfirmForm(CodeForm):
    """The first code of a secret that was just handed over."""

    code = forms.CharField(
        label="Code that the app shows now",
        help_text="Six digits.",
        max_length=20,
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "inputmode": "numeric"}),
    )


class BareForm(forms.Form):
    """Nothing but what is asked again: the password."""
