from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, demand, needs
from backoffice.access.powers import Power
from backoffice.business.models import Business
from backoffice.business.queries import the_business
from backoffice.ui.forms import render_form, showing_refusal
from backoffice.ui.lists import render_list
from clients.animals import actions
from clients.animals.forms import (
    AnimalForm,
    CautionEndForm,
    CautionForm,
    EnquiryForm,
    MoveForm,
    NewAnimalForm,
    OwnersForm,
    PhotoForm,
    RolesForm,
)
from clients.animals.intake import HealthForm
from clients.animals.measure_form import MeasureForm
from clients.animals.measuring import take_measure, take_measure_back
from clients.animals.models import Animal, Measure
from clients.animals.photos import set_photo
from clients.animals.queries import (
    animal_facts,
    animals_listed,
    get_animal_or_404,
    get_caution_or_404,
    get_measure_or_404,
    health_history,
    horses_at,
    horses_owned_by,
    latest_health,
    others_named,
    owners_on,
    roles_of,
)
from clients.animals.tables import AnimalFilter, AnimalHealthFilter, AnimalHealthTable, AnimalTable
from clients.people.actions import write_down
from clients.people.missing import missing_of_barn, missing_of_person, missing_of_practice
from clients.people.models import Person
from clients.people.queries import barn_names, get_barn_or_404, get_person_or_404, get_practice_or_404, windows_of
from clients.people.views import next_step


@require_GET
@needs(Power.SEE_CARE)
def animals(request: StaffRequest) -> HttpResponse:
    sees_health = request.user.may(Power.SEE_HEALTH)
    filter_class = AnimalHealthFilter if sees_health else AnimalFilter
    new = next_step(request, "New horse", "clients:animal-new")
    return render_list(
        request,
        table_class=AnimalHealthTable if sees_health else AnimalTable,
        filterset=filter_class(request.GET, queryset=animals_listed(timezone.localdate())),
        heading="Horses",
        new=new or None,
        empty=("No horse yet", "A horse needs a name, a barn and an owner.", *new),
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def animal_new(request: StaffRequest) -> HttpResponse:
    today = timezone.localdate()
    initial = {name: request.GET.get(name, "") for name in ("barn", "owner")}
    form = NewAnimalForm(request.POST or None, instance=Animal(), today=today, initial=initial)
    if request.method == "POST" and form.is_valid():
        animal, since = form.save(commit=False), form.cleaned_data["since"]
        twins = others_named(animal.name, animal.barn).exists()
        owner = form.cleaned_data["owner"]
        actions.add_animal(animal=animal, owner=owner, since=since, at=timezone.now(), by=request.user)
        messages.success(request, f"{animal} is written down. Next: ask about its health.")
        if twins:
            messages.warning(request, f"There is another {animal} at {animal.barn}: make sure they are two horses.")
        return redirect(animal)
    back = reverse("clients:animals")
    return render_form(request, form, heading="New horse", submit="Save", back=back, kicker="Horses")


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def animal_edit(request: StaffRequest, pk: int) -> HttpResponse:
    animal = get_animal_or_404(request, pk, Power.CHANGE_CARE)
    name, back = str(animal), animal.get_absolute_url()
    form = AnimalForm(request.POST or None, instance=animal, today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        write_down(form=form, at=timezone.now(), by=request.user)
        messages.success(request, f"{animal} is changed.")
        return redirect(back)
    return render_form(request, form, heading=name, submit="Save", back=back, kicker="Horses")


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def animal_photo(request: StaffRequest, pk: int) -> HttpResponse:
    animal = get_animal_or_404(request, pk, Power.CHANGE_CARE)
    form = PhotoForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        set_photo(animal=animal, photo=form.cleaned_data["photo"], at=timezone.now(), by=request.user)
        messages.success(request, f"{animal} has a photo to be known by.")
        return redirect(animal)
    heading = "A new photo" if animal.photo_id else "Photo"
    intro = "A new photo takes the place of the one before, which is erased." if animal.photo_id else ""
    back = animal.get_absolute_url()
    return render_form(
        request, form, heading=heading, submit="Keep the photo", back=back, kicker=str(animal), intro=intro
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def animal_owners(request: StaffRequest, pk: int) -> HttpResponse:
    animal = get_animal_or_404(request, pk, Power.CHANGE_CARE)
    today = timezone.localdate()
    form = OwnersForm(request.POST or None, owners=owners_on([animal], today)[animal.pk], today=today)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            since = form.cleaned_data["since"]
            actions.set_owners(animal=animal, shares=form.shares, since=since, at=timezone.now(), by=request.user)
            messages.success(request, f"The owners of {animal} are set.")
            return redirect(animal)
    return render_form(
        request,
        form,
        heading="Owners and shares",
        submit="Save the owners",
        back=animal.get_absolute_url(),
        kicker=str(animal),
        intro="The shares must make one whole horse. Earlier owners stay readable.",
        template="clients/animals/owners_form.html",
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def animal_roles(request: StaffRequest, pk: int) -> HttpResponse:
    animal = get_animal_or_404(request, pk, Power.CHANGE_CARE)
    today = timezone.localdate()
    form = RolesForm(request.POST or None, facts=animal_facts(animal, today), today=today)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            since = form.cleaned_data["since"]
            actions.set_roles(animal=animal, holders=form.holders, since=since, at=timezone.now(), by=request.user)
            messages.success(request, f"Who stands around {animal} is written down.")
            return redirect(animal)
    back = animal.get_absolute_url()
    return render_form(request, form, heading="Somebody else", submit="Save", back=back, kicker=str(animal))


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def animal_move(request: StaffRequest, pk: int) -> HttpResponse:
    animal = get_animal_or_404(request, pk, Power.CHANGE_CARE)
    form = MoveForm(request.POST or None, animal=animal, today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            barn, on = form.cleaned_data["barn"], form.cleaned_data["on"]
            actions.move_to_barn(animal=animal, barn=barn, on=on, at=timezone.now(), by=request.user)
            messages.success(
                request, f"{animal} stands at {barn}. Visits already booked keep their barn: look at them."
            )
            return redirect(animal)
    return render_form(
        request,
        form,
        heading="Moved to another barn",
        submit="Save the move",
        back=animal.get_absolute_url(),
        kicker=str(animal),
        intro=f"{animal} stands at {animal.barn} now. Its history goes along; what is unpaid stays with who pays.",
    )


@require_http_methods(["GET", "POST"])
@needs(Power.SEE_HEALTH)
def animal_health(request: StaffRequest, pk: int) -> HttpResponse:
    """The intake and what was answered before."""
    animal = get_animal_or_404(request, pk, Power.SEE_HEALTH)
    health = latest_health([animal])[animal.pk]
    if request.method == "POST":
        demand(request, Power.CHANGE_CARE)
    form = HealthForm(request.POST or None, animal=animal, health=health, today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        on = form.cleaned_data["on"]
        actions.record_health(animal=animal, answers=form.answers, on=on, at=timezone.now(), by=request.user)
        messages.success(request, f"What was asked about {animal} is written down.")
        return redirect(animal)
    return render_form(
        request,
        form,
        heading="Health, as told",
        submit="Write it down",
        back=animal.get_absolute_url(),
        kicker=str(animal),
        template="clients/animals/health_form.html",
        context={"history": health_history(animal), "facts": animal_facts(animal, timezone.localdate())},
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def caution_new(request: StaffRequest, pk: int) -> HttpResponse:
    demand(request, Power.SEE_HEALTH)
    animal = get_animal_or_404(request, pk, Power.CHANGE_CARE)
    form = CautionForm(request.POST or None, today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            actions.add_caution(animal=animal, **form.cleaned_data, at=timezone.now(), by=request.user)
            messages.success(request, "The caution stays in sight on every visit sheet until it is ended.")
            return redirect(animal)
    return render_form(
        request,
        form,
        heading="Take care with",
        submit="Save the caution",
        back=animal.get_absolute_url(),
        kicker=str(animal),
        intro="A caution is what somebody said about a place on the body. It is no judgment of ours.",
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def caution_end(request: StaffRequest, pk: int) -> HttpResponse:
    caution = get_caution_or_404(request, pk)
    form = CautionEndForm(request.POST or None, today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            on = form.cleaned_data["on"]
            actions.end_caution(caution=caution, on=on, at=timezone.now(), by=request.user)
            messages.success(request, f"The caution about “{caution.area}” is ended and stays in the history.")
            return redirect(caution.animal)
    return render_form(
        request,
        form,
        heading=f"End the caution about “{caution.area}”",
        submit="End this caution",
        back=caution.animal.get_absolute_url(),
        kicker=str(caution.animal),
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def measure_new(request: StaffRequest, pk: int, kind: str) -> HttpResponse:
    """One value on one named scale."""
    demand(request, Power.SEE_HEALTH)
    animal = get_animal_or_404(request, pk, Power.CHANGE_CARE)
    if kind not in Measure.Kind.values:
        raise Http404
    scale = Measure.Kind(kind)
    inches, by, today = the_business().words == Business.Words.US, str(request.user), timezone.localdate()
    form = MeasureForm(request.POST or None, kind=scale, in_inches=inches, by=by, today=today)
    back = reverse("clients:measures", args=[animal.pk])
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            said = form.cleaned_data
            measure = take_measure(
                animal=animal,
                kind=scale,
                value=form.value,
                on=said["taken_on"],
                given_by=said["given_by"],
                note=said["note"],
                at=timezone.now(),
                by=request.user,
            )
            messages.success(request, f"{measure}. Written down.")
            return redirect(back)
    heading, intro = str(scale.label), f"{form.scale.source} A number is a record, not a verdict."
    return render_form(request, form, heading=heading, submit="Keep it", back=back, kicker=str(animal), intro=intro)


@require_POST
def measure_take_back(request: StaffRequest, pk: int) -> HttpResponse:
    measure = get_measure_or_404(request, pk)
    animal, words = measure.animal, str(measure)
    take_measure_back(measure=measure, at=timezone.now(), by=request.user)
    messages.success(request, f"Taken back: {words}.")
    return redirect("clients:measures", animal.pk)


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def enquiry_new(request: StaffRequest) -> HttpResponse:
    form = EnquiryForm(request.POST or None, today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            facts = {name: form.cleaned_data[name] for name in EnquiryForm.base_fields}
            person = actions.log_enquiry(barn=None, **facts, known=form.known, at=timezone.now(), by=request.user)
            messages.success(request, f"The enquiry of {person} is written down.")
            return redirect(person)
    return render_form(
        request,
        form,
        heading="New enquiry",
        submit="Save the enquiry",
        back=reverse("clients:people"),
        kicker="People",
        intro="A name and a barn are enough. The rest can wait, and the page shows what is missing.",
        template="clients/animals/enquiry_form.html",
        context={"barn_names": barn_names()},
    )


@require_GET
def person(request: StaffRequest, pk: int) -> HttpResponse:
    """One person with the horses they own, share, handle, order or pay for."""
    person = get_person_or_404(request, pk)
    today = timezone.localdate()
    context = {
        "person": person,
        "missing": missing_of_person(person),
        "owned": horses_owned_by(person, today),
        "roles": roles_of(person, today),
        "wards": Person.objects.filter(guardian=person),
    }
    return render(request, "clients/animals/person.html", context)


@require_GET
def barn(request: StaffRequest, pk: int) -> HttpResponse:
    """One barn: how to get in, what there is, when, and which horses stand there."""
    barn = get_barn_or_404(request, pk)
    windows = windows_of(barn)
    context = {
        "barn": barn,
        "windows": windows,
        "missing": missing_of_barn(barn, windows),
        "horses": horses_at(barn, timezone.localdate()),
        "sees_health": request.user.may(Power.SEE_HEALTH),
    }
    return render(request, "clients/animals/barn.html", context)


@require_GET
def vet_practice(request: StaffRequest, pk: int) -> HttpResponse:
    practice = get_practice_or_404(request, pk)
    horses = animals_listed(timezone.localdate()).filter(vet_practice=practice, died_on__isnull=True)
    context = {"practice": practice, "missing": missing_of_practice(practice), "horses": horses}
    return render(request, "clients/animals/vet_practice.html", context)
