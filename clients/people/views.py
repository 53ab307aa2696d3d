from collections.abc import Iterable

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_http_methods

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.ui.forms import render_form
from backoffice.ui.lists import render_list
from clients.people.actions import write_down
from clients.people.forms import BarnForm, PersonForm, VetPracticeForm
from clients.people.models import Barn, Person, VetPractice
from clients.people.queries import (
    barns_listed,
    get_barn_or_404,
    get_person_or_404,
    get_practice_or_404,
    people_listed,
    people_on_file,
    practices_listed,
)
from clients.people.tables import (
    BarnFilter,
    BarnTable,
    PersonFilter,
    PersonTable,
    VetPracticeFilter,
    VetPracticeTable,
)
from clients.people.vcard import vcards

LIST = "clients/people/list.html"


def next_step(request: StaffRequest, label: str, url_name: str) -> tuple[str, str] | tuple[()]:
    """The label and address of the page that adds something, for those who may."""
    return (label, reverse(url_name)) if request.user.may(Power.CHANGE_CARE) else ()


@require_GET
@needs(Power.SEE_CARE)
def people(request: StaffRequest) -> HttpResponse:
    return render_list(
        request,
        table_class=PersonTable,
        filterset=PersonFilter(request.GET, queryset=people_listed(timezone.localdate())),
        heading="People",
        template=LIST,
        new=next_step(request, "New person", "clients:person-new") or None,
        empty=(
            "Nobody written down yet",
            "Start with who asked: a name, a barn and a phone number are enough.",
            *next_step(request, "Log an enquiry", "clients:enquiry-new"),
        ),
    )


@require_GET
@needs(Power.SEE_CARE)
def people_vcards(request: StaffRequest) -> HttpResponse:
    """Everybody on file, for the address book of a phone."""
    return _vcards(people_on_file(), "people")


@require_GET
def person_vcard(request: StaffRequest, pk: int) -> HttpResponse:
    person = get_person_or_404(request, pk)
    return _vcards([person], slugify(person.name) or "person")


def _vcards(found: Iterable[Person], name: str) -> HttpResponse:
    headers = {"Content-Disposition": f'attachment; filename="{name}.vcf"'}
    return HttpResponse(vcards(found), content_type="text/vcard; charset=utf-8", headers=headers)


@require_GET
@needs(Power.SEE_CARE)
def barns(request: StaffRequest) -> HttpResponse:
    new = next_step(request, "New barn", "clients:barn-new")
    return render_list(
        request,
        table_class=BarnTable,
        filterset=BarnFilter(request.GET, queryset=barns_listed()),
        heading="Barns",
        template=LIST,
        new=new or None,
        empty=(
            "No barn yet",
            "A barn keeps the gate, the power, the signal and the times for every horse there.",
            *new,
        ),
    )


@require_GET
@needs(Power.SEE_CARE)
def vet_practices(request: StaffRequest) -> HttpResponse:
    new = next_step(request, "New vet practice", "clients:vet-practice-new")
    return render_list(
        request,
        table_class=VetPracticeTable,
        filterset=VetPracticeFilter(request.GET, queryset=practices_listed()),
        heading="Vet practices",
        template=LIST,
        new=new or None,
        empty=("No vet practice yet", "Its number is one tap away when work has to stop.", *new),
    )


def _person_form(request: StaffRequest, person: Person, *, heading: str, back: str) -> HttpResponse:
    form = PersonForm(request.POST or None, instance=person, today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        saved = write_down(form=form, at=timezone.now(), by=request.user)
        messages.success(request, f"{saved} is written down.")
        return redirect("clients:person", saved.pk)
    return render_form(request, form, heading=heading, submit="Save", back=back, kicker="People")


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def person_new(request: StaffRequest) -> HttpResponse:
    return _person_form(request, Person(), heading="New person", back=reverse("clients:people"))


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def person_edit(request: StaffRequest, pk: int) -> HttpResponse:
    person = get_person_or_404(request, pk, Power.CHANGE_CARE)
    return _person_form(request, person, heading=str(person), back=person.get_absolute_url())


def _barn_form(request: StaffRequest, barn: Barn, *, heading: str, back: str) -> HttpResponse:
    form = BarnForm(request.POST or None, instance=barn)
    if request.method == "POST" and form.is_valid():
        saved = write_down(form=form, at=timezone.now(), by=request.user)
        messages.success(request, f"{saved} is written down.")
        return redirect("clients:barn", saved.pk)
    template = "clients/people/barn_form.html"
    return render_form(request, form, heading=heading, submit="Save", back=back, kicker="Barns", template=template)


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def barn_new(request: StaffRequest) -> HttpResponse:
    return _barn_form(request, Barn(), heading="New barn", back=reverse("clients:barns"))


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def barn_edit(request: StaffRequest, pk: int) -> HttpResponse:
    barn = get_barn_or_404(request, pk, Power.CHANGE_CARE)
    return _barn_form(request, barn, heading=str(barn), back=barn.get_absolute_url())


def _practice_form(request: StaffRequest, practice: VetPractice, *, heading: str, back: str) -> HttpResponse:
    form = VetPracticeForm(request.POST or None, instance=practice)
    if request.method == "POST" and form.is_valid():
        saved = write_down(form=form, at=timezone.now(), by=request.user)
        messages.success(request, f"{saved} is written down.")
        return redirect("clients:vet-practice", saved.pk)
    return render_form(request, form, heading=heading, submit="Save", back=back, kicker="Vet practices")


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def vet_practice_new(request: StaffRequest) -> HttpResponse:
    back = reverse("clients:vet-practices")
    return _practice_form(request, VetPractice(), heading="New vet practice", back=back)


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def vet_practice_edit(request: StaffRequest, pk: int) -> HttpResponse:
    practice = get_practice_or_404(request, pk, Power.CHANGE_CARE)
    return _practice_form(request, practice, heading=str(practice), back=practice.get_absolute_url())
