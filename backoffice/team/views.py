from django.contrib.auth.views import LoginView

from backoffice.team.forms import SignInForm


class SignIn(LoginView):
    """Django's own sign-in, throttled by axes; 422 when the pair is wrong."""

    form_class = SignInForm
    template_name = "backoffice/team/sign_in.html"
    redirect_authenticated_user = True

    def form_invalid(self, form):  # type: ignore[no-untyped-def]
        response = super().form_invalid(form)
        response.status_code = 422
        return response
