from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.business.queries import the_business
from backoffice.ui.forms import render_form, showing_refusal
from backoffice.ui.lists import render_list
from clients.miles.actions import correct_trip, log_driven_days, write_trip
from clients.miles.forms import CorrectForm, TripForm, initial_of
from clients.miles.queries import driven_not_logged, get_trip_or_404, history_of, metres_driven, trips_for
from clients.miles.tables import TripFilter, TripTable


@require_GET
@needs(Power.SEE_CARE)
def trip_list(request: StaffRequest) -> HttpResponse:
    new = ("New trip", reverse("clients:trip-new")) if request.user.may(Power.CHANGE_CARE) else None
    waiting, business = driven_not_logged(timezone.localdate()), the_business()
    return render_list(
        request,
        table_class=TripTable,
        filterset=TripFilter(request.GET, queryset=trips_for(request.user)),
        heading="Mileage log",
        template="clients/miles/trips.html",
        context={
            "waiting": len(waiting),
            "astray": [each for each in waiting if metres_driven(each, business) is None],
        },
        new=new,
        empty=("No trip yet", "Days with finished visits come in by themselves; other drives by hand.", *(new or ())),
    )


@require_POST
@needs(Power.CHANGE_CARE)
def trips_log(request: StaffRequest) -> HttpResponse:
    made = len(log_driven_days(at=timezone.now(), by=request.user))
    messages.success(request, f"{made} driven day{'' if made == 1 else 's'} written down.")
    return redirect("clients:trips")


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def trip_new(request: StaffRequest) -> HttpResponse:
    drivers = User.objects.filter(is_active=True)
    if not request.user.may(Power.CHANGE_SETTINGS):
        drivers = drivers.filter(pk=request.user.pk)
    initial = {"day": timezone.localdate(), "driver": request.user.pk}
    form = TripForm(request.POST or None, unit=the_business().distance_unit, drivers=drivers, initial=initial)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            trip = write_trip(trip=form.trip(), at=timezone.now(), by=request.user)
            messages.success(request, "The trip is in the log.")
            return redirect(trip)
    back = reverse("clients:trips")
    return render_form(request, form, heading="New trip", submit="Save the trip", back=back, kicker="Mileage log")


@require_GET
def trip(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_trip_or_404(request, pk)
    return render(request, "clients/miles/trip.html", {"trip": found, "rows": history_of(found)})


@require_http_methods(["GET", "POST"])
def trip_correct(request: StaffRequest, pk: int) -> HttpResponse:
    found, unit = get_trip_or_404(request, pk, Power.CHANGE_CARE), the_business().distance_unit
    form = CorrectForm(request.POST or None, unit=unit, initial=initial_of(found, unit))
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        words = {name: data[name] for name in ("places", "purpose", "measured", "why")}
        with showing_refusal(form):
            newer = correct_trip(trip=found, metres=form.metres, **words, at=timezone.now(), by=request.user)
            messages.success(request, "Corrected; the row before stays readable.")
            return redirect(newer)
    return render_form(
        request,
        form,
        heading="Correct this trip",
        submit="Save the correction",
        back=found.get_absolute_url(),
        kicker=str(found),
        intro="The row as it was stays in the log with this reason. A distance of 0 strikes the trip out.",
    )
