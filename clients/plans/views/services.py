from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from backoffice.access.doors import StaffRequest, demand, needs
from backoffice.access.powers import Power
from backoffice.ui.forms import render_form
from backoffice.ui.lists import render_list
from clients.plans.actions import save_service
from clients.plans.forms import ServiceForm
from clients.plans.models import Service
from clients.plans.queries import services
from clients.plans.tables import ServiceFilter, ServiceTable


def get_service_or_404(request: HttpRequest, pk: int) -> Service:
    demand(request, Power.CHANGE_SETTINGS)
    return get_object_or_404(Service, pk=pk)


@require_GET
@needs(Power.CHANGE_SETTINGS)
def service_list(request: StaffRequest) -> HttpResponse:
    return render_list(
        request,
        table_class=ServiceTable,
        filterset=ServiceFilter(request.GET, queryset=services()),
        heading="Services",
        new=("New service", reverse("clients:service-new")),
        empty=(
            "No service yet",
            "A full body and a spot are enough to plan and quote.",
            "New service",
            reverse("clients:service-new"),
        ),
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def service_new(request: StaffRequest) -> HttpResponse:
    return _service(request, Service(), heading="New service")


@require_http_methods(["GET", "POST"])
def service_edit(request: StaffRequest, pk: int) -> HttpResponse:
    service = get_service_or_404(request, pk)
    return _service(request, service, heading=service.name)


def _service(request: StaffRequest, service: Service, *, heading: str) -> HttpResponse:
    form = ServiceForm(request.POST or None, instance=service)
    back = reverse("clients:services")
    if request.method == "POST" and form.is_valid():
        save_service(service=form.save(commit=False), at=timezone.now(), by=request.user)
        messages.success(request, f"{service} is saved.")
        return redirect(back)
    return render_form(request, form, heading=heading, submit="Save service", back=back, kicker="Settings")
