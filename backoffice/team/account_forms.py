from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from backoffice.access.models import User
from backoffice.access.powers import Role
from backoffice.ui.forms import Form, ModelForm

ROLES_IN_WORDS = (
    "Owner-manager: everything. Practitioner: care, quotes and money. Assistant: care, no money. "
    "Bookkeeper: money, no health notes."
)


HOW_TO_CHOOSE = "At least 15 characters. A sentence is easier to keep in mind than a word."


def password_field(label: str, help_text: str = "", *, required: bool = True) -> forms.CharField:
    widget = forms.PasswordInput(attrs={"autocomplete": "new-password"})
    return forms.CharField(
        label=label, strip=False, max_length=200, widget=widget, help_text=help_text, required=required
    )


def check_passwords(form: forms.BaseForm, person: User) -> None:
    """Put the sentence of each broken rule of the settings at its field."""
    password, again = form.cleaned_data.get("password"), form.cleaned_data.get("password_again")
    if "password_again" not in form.errors and (password or again) and password != again:
        form.add_error("password_again", "The two passwords differ.")
    if password:
        try:
            validate_password(password, person)
        except ValidationError as error:
            form.add_error("password", error)


class NewAccountForm(ModelForm):
    password = password_field("Password", f"Leave it blank, and they choose their own. {HOW_TO_CHOOSE}", required=False)
    password_again = password_field("The same password again", required=False)

    class Meta:
        model = User
        fields = ["first_name", "last_name", "username", "role", "drives_rounds", "email", "phone"]
        widgets = {"username": forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"})}
        labels = {"username": "Name to sign in with"}
        help_texts = {"username": "Letters, digits and @ . + - _ only.", "role": ROLES_IN_WORDS}
        error_messages = {"username": {"unique": "Somebody already signs in with this name."}}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        check_passwords(self, User(**{name: cleaned.get(name, "") for name in ("username", "first_name", "last_name")}))
        return cleaned


class AccountForm(ModelForm):
    class Meta:
        model = User
        fields = ["first_name", "last_name", "role", "drives_rounds", "email", "phone"]
        help_texts = {"role": ROLES_IN_WORDS}

    def clean_role(self) -> Role:
        return Role(self.cleaned_data["role"])


class PasswordForm(Form):
    password = password_field("New password", HOW_TO_CHOOSE)
    password_again = password_field("The same password again")

    def __init__(self, *args: Any, account: User, **kwargs: Any) -> None:
        self.account = account
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        check_passwords(self, self.account)
        return cleaned
