from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect
from django.utils.decorators import method_decorator

from backoffice.team.forms import SignInForm
from backoffice.team.queries import nobody_is_here


class SignIn(LoginView):
    """Django's own sign-in, throttled by axes; 422 when the pair is wrong."""

    form_class = SignInForm
    template_name = "backoffice/team/sign_in.html"
    redirect_authenticated_user = True

    @method_decorator(login_not_required)
    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if nobody_is_here():
            return redirect("backoffice:welcome")
        return super().dispatch(request, *args, **kwargs)

    def form_invalid(self, form: AuthenticationForm) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=422)
