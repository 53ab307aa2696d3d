from django.contrib.auth.forms import AuthenticationForm

from backoffice.ui.forms import Prepared


class SignInForm(Prepared, AuthenticationForm):
    error_messages = {
        "invalid_login": "That name and password do not belong together. Check for capital letters.",
        "inactive": "This account is closed. Ask the owner-manager.",
    }
