"""One's own account: password, second step, passkeys, and where one is signed in."""

import json

from axes.helpers import get_lockout_response
from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest
from backoffice.team import actions, codes, entering, passkeys, sessions, two_steps
from backoffice.team.account_forms import PasswordForm
from backoffice.team.forms import FirstCodeForm, PasskeyForm, SureForm
from backoffice.team.models import SignedIn
from backoffice.team.qr import drawn_code
from backoffice.ui.forms import render_form, showing_refusal

KICKER = "Your account"
NO_PASSKEY = "The passkey was not made, or the page was open for too long. Try again."


@require_GET
def own_account(request: StaffRequest) -> HttpResponse:
    account, now = request.user, timezone.now()
    context = {
        "account": account,
        "has_app": two_steps.has_code_app(account),
        "passkeys": two_steps.passkeys_of(account),
        "codes_left": two_steps.recovery_codes_left(account),
        "places_signed_in": sessions.signed_in_of(account, now),
        "here": request.session.session_key,
        "can_have_passkeys": entering.site_of(request).can_have_passkeys,
        "asks_second_step": request.business.asks_second_step,  # type: ignore[attr-defined]
    }
    return render(request, "backoffice/team/own_account.html", context)


@require_http_methods(["GET", "POST"])
def sure(request: StaffRequest) -> HttpResponse:
    """The password once more; wrong ones count as wrong sign-ins."""
    account = request.user
    if not entering.may_try(request, account):
        return get_lockout_response(request, {"username": account.username})  # type: ignore[no-any-return]
    form = SureForm(request.POST or None, account=account)
    if request.method == "POST":
        if form.is_valid():
            request.session[entering.SURE] = timezone.now().timestamp()
            return redirect(entering.way_on(request))
        entering.count_wrong(request, account)
    return render_form(
        request,
        form,
        heading="Is it you?",
        submit="Go on",
        back=reverse("backoffice:own-account"),
        kicker=KICKER,
        intro="You signed in a while ago. Say your password once more.",
    )


@require_http_methods(["GET", "POST"])
@entering.surely
def own_password(request: StaffRequest) -> HttpResponse:
    form = PasswordForm(request.POST or None, account=request.user)
    if request.method == "POST" and form.is_valid():
        password = form.cleaned_data["password"]
        account = actions.set_password(account=request.user, password=password, at=timezone.now(), by=request.user)
        update_session_auth_hash(request, account)
        messages.success(request, "Changed. You are signed out everywhere else.")
        return redirect("backoffice:own-account")
    back = reverse("backoffice:own-account")
    return render_form(request, form, heading="New password", submit="Change it", back=back, kicker=KICKER)


@require_http_methods(["GET", "POST"])
@entering.surely
def own_codes(request: StaffRequest) -> HttpResponse:
    """Take an app over: its picture and secret, then its first code."""
    account, now = request.user, timezone.now()
    form = FirstCodeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            made = two_steps.confirm_code_app(account=account, code=form.cleaned_data["code"], at=now)
            request.session[entering.TWO_STEPS] = True
            messages.success(request, "From now on signing in asks for a code of the app.")
            return _show_codes(request, made)
    secret = (request.method == "POST" and two_steps.secret_begun(account)) or two_steps.begin_code_app(
        account=account, at=now
    )
    business = request.business  # type: ignore[attr-defined]
    address = codes.address_of(secret, account=account.username, business=business.name)
    grouped = " ".join(secret[start : start + 4] for start in range(0, len(secret), 4))
    return render_form(
        request,
        form,
        heading="Codes from an app",
        submit="The app shows codes",
        back=reverse("backoffice:own-account"),
        kicker=KICKER,
        template="backoffice/team/code_app.html",
        context={"picture": drawn_code(address), "secret": grouped},
    )


@require_POST
@entering.surely
def own_codes_drop(request: StaffRequest) -> HttpResponse:
    two_steps.drop_code_app(account=request.user, at=timezone.now())
    messages.success(request, "The app is taken away.")
    return redirect("backoffice:own-account")


@require_POST
@entering.surely
def own_recovery(request: StaffRequest) -> HttpResponse:
    return _show_codes(request, two_steps.renew_recovery_codes(account=request.user, at=timezone.now()))


def _show_codes(request: StaffRequest, made: list[str]) -> HttpResponse:
    """Recovery codes are on this page once, and nowhere afterwards."""
    if not made:
        return redirect("backoffice:own-account")
    answer = render(request, "backoffice/team/recovery_codes.html", {"codes": made})
    answer["Cache-Control"] = "no-store"
    return answer


@require_http_methods(["GET", "POST"])
@entering.surely
def own_passkey_new(request: StaffRequest) -> HttpResponse:
    account, site = request.user, entering.site_of(request)
    form = PasskeyForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        challenge = request.session.pop(entering.CHALLENGE, "")
        key = passkeys.made_key(site, request.POST.get("answer", ""), challenge)
        with showing_refusal(form):
            if key is None:
                form.add_error(None, NO_PASSKEY)
            else:
                name = form.cleaned_data["name"]
                made = two_steps.add_passkey(account=account, name=name, key=key, at=timezone.now())
                request.session[entering.TWO_STEPS] = True
                messages.success(request, f"“{name}” opens this account from now on.")
                return _show_codes(request, made)
    return render_form(
        request,
        form,
        heading="A passkey",
        submit="Make a passkey",
        back=reverse("backoffice:own-account"),
        kicker=KICKER,
        template="backoffice/team/passkey.html",
        context={"can_have_passkeys": site.can_have_passkeys},
    )


@require_POST
@entering.surely
def own_passkey_question(request: StaffRequest) -> HttpResponse:
    account = request.user
    asked = passkeys.ask_to_make(
        entering.site_of(request),
        business=request.business.name,  # type: ignore[attr-defined]
        account_pk=account.pk,
        username=account.username,
        known=two_steps.passkeys_of(account).values_list("credential_id", flat=True),
    )
    request.session[entering.CHALLENGE] = asked.challenge
    return JsonResponse(json.loads(asked.json))


@require_POST
@entering.surely
def own_passkey_drop(request: StaffRequest, pk: int) -> HttpResponse:
    passkey = get_object_or_404(two_steps.passkeys_of(request.user).select_related("account"), pk=pk)
    two_steps.drop_passkey(passkey=passkey, at=timezone.now())
    messages.success(request, f"“{passkey}” is taken away.")
    return redirect("backoffice:own-account")


@require_POST
def own_session_end(request: StaffRequest, pk: int) -> HttpResponse:
    place = get_object_or_404(SignedIn, account=request.user, pk=pk)
    sessions.end_sessions(account=request.user, places=[place], at=timezone.now(), by=request.user)
    messages.success(request, f"Signed out: {place}.")
    return redirect("backoffice:own-account")


@require_POST
def own_sessions_end(request: StaffRequest) -> HttpResponse:
    others = sessions.elsewhere(request.user, request)
    sessions.end_sessions(account=request.user, places=others, at=timezone.now(), by=request.user)
    messages.success(request, "You are signed out everywhere else.")
    return redirect("backoffice:own-account")
