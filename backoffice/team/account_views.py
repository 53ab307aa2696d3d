from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.models import User
from backoffice.access.powers import POWER_WORDS, POWERS, Power, Role
from backoffice.links.doors import by_link
from backoffice.links.models import PrivateLink
from backoffice.team import actions, sessions, two_steps
from backoffice.team.account_forms import AccountForm, NewAccountForm, PasswordForm
from backoffice.team.queries import accounts, get_account_or_404
from backoffice.team.tables import AccountFilter, AccountTable
from backoffice.ui.forms import render_form, showing_refusal
from backoffice.ui.lists import render_list

KICKER = "Settings"


@require_safe
@needs(Power.CHANGE_SETTINGS)
def team(request: HttpRequest) -> HttpResponse:
    return render_list(
        request,
        table_class=AccountTable,
        filterset=AccountFilter(request.GET, queryset=accounts(), request=request),
        heading="Team",
        new=("Add an account", reverse("backoffice:account-new")),
        context={"kicker": KICKER},
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def new_account(request: StaffRequest) -> HttpResponse:
    form = NewAccountForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        account = form.save(commit=False)
        password = form.cleaned_data["password"]
        actions.add_account(account=account, password=password, at=timezone.now(), by=request.user)
        if not password:
            return _invited(request, account)
        messages.success(request, f"{account} can sign in now as “{account.username}”.")
        return redirect("backoffice:team")
    back = reverse("backoffice:team")
    return render_form(request, form, heading="Add an account", submit="Add the account", back=back, kicker=KICKER)


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def edit_account(request: StaffRequest, pk: int) -> HttpResponse:
    account = get_account_or_404(request, pk)
    heading = str(account)
    form = AccountForm(request.POST or None, instance=account)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            actions.change_account(account=account, at=timezone.now(), by=request.user, **form.cleaned_data)
            messages.success(request, f"Saved what changed about {account}.")
            return redirect("backoffice:team")
    return render_form(
        request,
        form,
        heading=heading,
        submit="Save",
        back=reverse("backoffice:team"),
        kicker="Team",
        template="backoffice/team/account.html",
        context={
            "account": account,
            "has_second_step": two_steps.has_second_step(account),
            "places_signed_in": sessions.signed_in_of(account, timezone.now()),
        },
    )


@require_POST
@needs(Power.CHANGE_SETTINGS)
def invite(request: StaffRequest, pk: int) -> HttpResponse:
    """For somebody new, and for one who forgot."""
    return _invited(request, get_account_or_404(request, pk))


def _invited(request: StaffRequest, account: User) -> HttpResponse:
    address = actions.invite(account=account, at=timezone.now(), by=request.user)
    return render(request, "backoffice/team/invited.html", {"account": account, "address": address})


@by_link(PrivateLink.Purpose.ACCOUNT)
@require_http_methods(["GET", "POST"])
def choose_password(request: HttpRequest, link: PrivateLink, token: str) -> HttpResponse:
    """Their own page, once: it sets the password and signs nobody in."""
    account = get_object_or_404(User, pk=link.target_pk, is_active=True)
    form = PasswordForm(request.POST or None, account=account)
    if request.method == "POST" and form.is_valid():
        actions.choose_password(account=account, password=form.cleaned_data["password"], at=timezone.now())
        messages.success(request, f"Your password is set. Sign in as “{account.username}”.")
        return redirect("backoffice:sign-in")
    status = 422 if form.errors else 200
    return render(request, "backoffice/team/choose_password.html", {"account": account, "form": form}, status=status)


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def set_password(request: StaffRequest, pk: int) -> HttpResponse:
    account = get_account_or_404(request, pk)
    form = PasswordForm(request.POST or None, account=account)
    if request.method == "POST" and form.is_valid():
        password = form.cleaned_data["password"]
        account = actions.set_password(account=account, password=password, at=timezone.now(), by=request.user)
        if account.pk == request.user.pk:
            update_session_auth_hash(request, account)
        messages.success(request, f"{account} signs in with the new password from now on.")
        return redirect("backoffice:team")
    heading = f"New password for {account}"
    back = reverse("backoffice:account-edit", args=[account.pk])
    return render_form(request, form, heading=heading, submit="Set the password", back=back, kicker="Team")


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def close_account(request: StaffRequest, pk: int) -> HttpResponse:
    account = get_account_or_404(request, pk)
    if request.method == "POST":
        actions.close_account(account=account, at=timezone.now(), by=request.user)
        messages.success(request, f"{account} can no longer sign in. What they did keeps their name.")
        return redirect("backoffice:team")
    return render(request, "backoffice/team/close_account.html", {"account": account})


@require_POST
@needs(Power.CHANGE_SETTINGS)
def drop_steps(request: StaffRequest, pk: int) -> HttpResponse:
    account = get_account_or_404(request, pk)
    two_steps.drop_second_step(account=account, at=timezone.now(), by=request.user)
    messages.success(request, f"{account} signs in with the password alone until they set up a new second step.")
    return redirect("backoffice:account-edit", account.pk)


@require_POST
@needs(Power.CHANGE_SETTINGS)
def sign_out_everywhere(request: StaffRequest, pk: int) -> HttpResponse:
    account = get_account_or_404(request, pk)
    places = sessions.elsewhere(account, request)
    sessions.end_sessions(account=account, places=places, at=timezone.now(), by=request.user)
    messages.success(request, f"{account} is signed out everywhere{' else' if account == request.user else ''}.")
    return redirect("backoffice:account-edit", account.pk)


@require_safe
@needs(Power.CHANGE_SETTINGS)
def powers(request: HttpRequest) -> HttpResponse:
    """The table of `access.powers`, as it is."""
    rows = [(POWER_WORDS[power], [power in POWERS[role] for role in Role]) for power in Power]
    return render(request, "backoffice/team/powers.html", {"roles": [role.label for role in Role], "rows": rows})


@require_POST
@needs(Power.CHANGE_SETTINGS)
def reopen_account(request: StaffRequest, pk: int) -> HttpResponse:
    account = actions.reopen_account(account=get_account_or_404(request, pk), at=timezone.now(), by=request.user)
    messages.success(request, f"{account} can sign in again.")
    return redirect("backoffice:team")
