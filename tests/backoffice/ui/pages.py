"""A list, a form and refusing pages to try the base classes on."""

import django_filters
from django import forms as fields
from django.core.exceptions import PermissionDenied
from django.urls import path

from backoffice.access.models import User
from backoffice.access.powers import Role
from backoffice.refusal import Refused
from backoffice.ui import filters, forms, lists, tables
from backoffice.urls import urlpatterns as real


class PeopleTable(tables.Table):
    username = tables.NameColumn(linkify=False, under=lambda user: user.last_name)
    role = tables.ChipColumn(tones={"assistant": ("ready", "")})
    date_joined = tables.DayColumn()
    owed = tables.MoneyColumn(accessor="pk", orderable=False)
    minutes = tables.MinutesColumn(accessor="pk", orderable=False)

    class Meta(tables.Table.Meta):
        model = User
        fields = ("username", "role", "date_joined", "owed", "minutes")


class PeopleFilter(filters.FilterSet):
    search_in = ("username", "last_name")
    role = django_filters.ChoiceFilter(choices=[(role.value, role.label) for role in Role])

    class Meta:
        model = User
        fields = ()


class VisitForm(forms.Form):
    name = fields.CharField(label="Horse")
    on = fields.DateField(label="Day")
    born = fields.DateField(label="Born", required=False)
    at = fields.TimeField(label="Time", required=False)
    minutes = fields.IntegerField(label="Minutes", min_value=5, max_value=240, help_text="Hands-on time.")
    share = fields.DecimalField(label="Share", min_value=0, max_value=100, required=False)
    reaction = fields.ChoiceField(label="How was it?", choices=[("calm", "Calm")], widget=fields.RadioSelect)
    agreed = fields.BooleanField(label="The handler agreed")
    note = fields.CharField(label="Note", widget=fields.Textarea, required=False)

    far_days = ("born",)


def people(request):
    rows = User.objects.order_by("pk")
    return lists.render_list(
        request,
        table_class=PeopleTable,
        filterset=PeopleFilter(request.GET, queryset=rows.none() if "nobody" in request.GET else rows),
        heading="Team",
        new=("New account", "/form/"),
        empty=("Nobody yet", "Make the first account.", "Make one", "/form/"),
    )


def form(request):
    shown = VisitForm(request.POST or None)
    if request.method == "POST" and shown.is_valid():
        with forms.showing_refusal(shown):
            raise Refused("That time is taken.")
    return forms.render_form(request, shown, heading="A visit", submit="Save", back="/people/")


def refuse(request):
    raise Refused("The vet's answer is not on file.")


def forbid(request):
    raise PermissionDenied


def breaks(request):
    raise RuntimeError("broken on purpose")


urlpatterns = [
    path("people/", people),
    path("form/", form),
    path("refuse/", refuse),
    path("forbid/", forbid),
    path("breaks/", breaks),
    *real,
]
