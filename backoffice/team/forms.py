from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm

from backoffice.access.models import User
from backoffice.ui.forms import Form, Prepared

WRONG_PASSWORD = "That is not your password. Check for capital letters."  # noqa: S105  # a sentence


class SignInForm(Prepared, AuthenticationForm):
    error_messages = {
        "invalid_login": "That name and password do not belong together. Check for capital letters.",
        "inactive": "This account is closed. Ask the owner-manager.",
    }


class SecondStepForm(Form):
    code = forms.CharField(
        label="Code",
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "autocapitalize": "none", "autofocus": True}),
        help_text="The six digits of your app, or one of your recovery codes.",
    )


class FirstCodeForm(Form):
    code = forms.CharField(
        label="The code that the app shows now",
        max_length=20,
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "inputmode": "numeric"}),
    )


class PasskeyForm(Form):
    name = forms.CharField(label="What to call it", max_length=60, help_text="Such as: my phone.")


class SureForm(Form):
    """The password once more, before something that whoever finds an open screen must not change."""

    password = forms.CharField(
        strip=False, max_length=200, widget=forms.PasswordInput(attrs={"autocomplete": "current-password"})
    )

    def __init__(self, *args: Any, account: User, **kwargs: Any) -> None:
        self.account = account
        super().__init__(*args, **kwargs)

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        if not self.account.check_password(password):
            raise forms.ValidationError(WRONG_PASSWORD)
        return password
