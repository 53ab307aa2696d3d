import json
from typing import Any

from axes.helpers import get_lockout_response
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.views.decorators.http import require_http_methods, require_POST

from backoffice.access.models import User
from backoffice.team import entering, passkeys, two_steps
from backoffice.team.forms import SecondStepForm, SignInForm
from backoffice.team.queries import nobody_is_here

WRONG_CODE = "That code is not right, or was used already. Wait for the next one."
WRONG_PASSKEY = "That passkey does not open an account here."


class SignIn(LoginView):
    """Django's own sign-in, throttled by axes; 422 when the pair is wrong, a second step where one is set up."""

    form_class = SignInForm
    template_name = "backoffice/team/sign_in.html"
    redirect_authenticated_user = True

    @method_decorator(login_not_required)
    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if nobody_is_here():
            return redirect("backoffice:welcome")
        return super().dispatch(request, *args, **kwargs)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        can = entering.site_of(self.request).can_have_passkeys
        return super().get_context_data(can_have_passkeys=can, **kwargs)

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        account: User = form.get_user()
        now = timezone.now()
        if two_steps.has_second_step(account):
            entering.begin_half_way(self.request, account, now)
            self.request.session["next"] = self.get_success_url()
            return redirect("backoffice:sign-in-second")
        entering.enter(self.request, account, now, steps=1)
        return redirect(self.get_success_url())

    def form_invalid(self, form: AuthenticationForm) -> HttpResponse:
        return self.render_to_response(self.get_context_data(form=form), status=422)


@login_not_required
@require_http_methods(["GET", "POST"])
def second_step(request: HttpRequest) -> HttpResponse:
    """After the right password: the app's code, or a recovery code."""
    now = timezone.now()
    account = entering.half_way(request, now)
    if account is None:
        return redirect("backoffice:sign-in")
    if not entering.may_try(request, account):
        return get_lockout_response(request, {"username": account.username})  # type: ignore[no-any-return]
    form = SecondStepForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        code = form.cleaned_data["code"]
        right = two_steps.use_code(account=account, code=code, at=now) or two_steps.use_recovery_code(
            account=account, code=code, at=now
        )
        if right:
            to = request.session.pop("next", "/")
            entering.enter(request, account, now, steps=2)
            return redirect(to)
        entering.count_wrong(request, account)
        form.add_error("code", WRONG_CODE)
    context = {
        "form": form,
        "has_app": two_steps.has_code_app(account),
        "can_have_passkeys": two_steps.passkeys_of(account).exists() and entering.site_of(request).can_have_passkeys,
    }
    return render(request, "backoffice/team/second_step.html", context, status=422 if form.errors else 200)


@login_not_required
@require_POST
def passkey_question(request: HttpRequest) -> HttpResponse:
    """What the browser asks its passkeys; the challenge waits in the session for one answer."""
    asked = passkeys.ask_to_sign(entering.site_of(request))
    request.session[entering.CHALLENGE] = asked.challenge
    return JsonResponse(json.loads(asked.json))


@login_not_required
@require_POST
def passkey_answer(request: HttpRequest) -> HttpResponse:
    now, challenge = timezone.now(), request.session.pop(entering.CHALLENGE, "")
    site, answer = entering.site_of(request), request.POST.get("answer", "")
    account = two_steps.use_passkey(site=site, answer=answer, challenge=challenge, at=now)
    if account is None or not entering.may_try(request, account):
        form = SignInForm(request)
        context = {"form": form, "can_have_passkeys": True, "wrong_passkey": WRONG_PASSKEY}
        return render(request, "backoffice/team/sign_in.html", context, status=422)
    to = entering.way_on(request)
    entering.enter(request, account, now, steps=2)
    return redirect(to)
