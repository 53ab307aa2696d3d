from collections.abc import Sequence
from typing import Any

from django import forms

from backoffice.access.models import User
from backoffice.documents.fields import PhotoField
from backoffice.ui.forms import Form
from clients.animals.forms import Dated, PastDay
from clients.animals.models import Animal
from clients.kit.models import Applicator, Machine
from clients.kit.queries import machines_in_use
from clients.people.forms import PhoneField
from clients.people.models import Person
from clients.people.queries import people_on_file, possible_doubles
from clients.plans.models import Service
from clients.plans.queries import offered_services
from clients.visits.actions import AreaDone, ArrivalSeen, SessionDone
from clients.visits.models import StopList, Visit
from clients.visits.queries import practitioners
from clients.visits.stop_lists import LISTS

OUTSIDE_HELP = "Only needed outside the barn's windows or your own working day."
SPOT_HELP = "It is kept with the visit."
OVERRIDE_HELP = "Only needed where permission says ask. It is kept with your name."


class GoingOnForm(Form):
    """The reasons that let a booking go on: outside hours, after permission said ask, or without a full body near.

    With `is_ready` permission needs no reason, and only a spot (`is_spot`) leans on a full body: no more is asked for.
    """

    outside_hours_reason = forms.CharField(
        label="Reason for an unusual hour", max_length=300, required=False, help_text=OUTSIDE_HELP
    )
    override_reason = forms.CharField(
        label="Reason to go on after “ask”", max_length=500, required=False, help_text=OVERRIDE_HELP
    )
    spot_alone_reason = forms.CharField(
        label="Reason for a spot with no full body near before it", max_length=300, required=False, help_text=SPOT_HELP
    )

    REASONS = ("outside_hours_reason", "override_reason", "spot_alone_reason")

    def __init__(self, *args: Any, is_ready: bool = False, is_spot: bool = True, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if is_ready:
            self.leave_out("override_reason")
        if not is_spot:
            self.leave_out("spot_alone_reason")

    def leave_out(self, *names: str) -> None:
        """Fields that do not apply here; the layout is drawn without them too."""
        for name in names:
            del self.fields[name]
            self.helper.layout.fields.remove(name)


class CallLaterForm(Form):
    until = forms.DateField(label="On the list again from")
    why = forms.CharField(max_length=200, required=False, help_text="Such as: away with her daughter till May.")


class VisitForm(GoingOnForm):
    animal = forms.ModelChoiceField(Animal.objects.none(), label="Horse")
    service = forms.ModelChoiceField(Service.objects.none())
    practitioner = forms.ModelChoiceField(User.objects.none())
    machine = forms.ModelChoiceField(Machine.objects.none(), required=False)
    day = forms.DateField()
    starts = forms.TimeField(required=False, help_text="Leave it empty to pencil the visit without a time.")
    minutes = forms.IntegerField(
        min_value=5, max_value=300, required=False, help_text="Empty: the hands-on minutes of the service."
    )
    field_order = ["animal", "service", "day", "starts", "minutes", "practitioner", "machine"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chosen = str(self["service"].value() or "")
        spots = offered_services().filter(kind=Service.Kind.SPOT)
        if chosen not in {str(pk) for pk in spots.values_list("pk", flat=True)}:
            self.leave_out("spot_alone_reason")
        _choices(self, "animal", Animal.objects.filter(died_on__isnull=True).select_related("barn"))
        _choices(self, "service", offered_services())
        _choices(self, "practitioner", practitioners())
        _choices(self, "machine", machines_in_use())


class BookForm(GoingOnForm):
    starts = forms.TimeField()
    machine = forms.ModelChoiceField(Machine.objects.none(), required=False)
    field_order = ["starts", "machine"]

    def __init__(self, *args: Any, visit: Visit, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _machine_choices(self, visit)


class MoveForm(GoingOnForm):
    day = forms.DateField()
    starts = forms.TimeField(required=False)
    practitioner = forms.ModelChoiceField(User.objects.none())
    machine = forms.ModelChoiceField(Machine.objects.none(), required=False)
    field_order = ["day", "starts", "practitioner", "machine"]

    def __init__(self, *args: Any, visit: Visit, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _choices(self, "practitioner", practitioners() | User.objects.filter(pk=visit.practitioner_id))
        _machine_choices(self, visit)
        if visit.status == Visit.Status.PENCILLED:
            self.leave_out("starts", *self.REASONS)
        elif visit.service.kind != Service.Kind.SPOT:
            self.leave_out("spot_alone_reason")


def _choices(form: forms.Form, name: str, queryset: Any) -> None:
    field = form.fields[name]
    assert isinstance(field, forms.ModelChoiceField)  # noqa: S101  (narrows the type)
    field.queryset = queryset


def _machine_choices(form: GoingOnForm, visit: Visit) -> None:
    if visit.service.uses_machine:
        _choices(form, "machine", machines_in_use())
    else:
        form.leave_out("machine")


class CancelForm(Form):
    reason = forms.CharField(max_length=300, help_text="Who called it off, and why.")


class SaleForm(Dated, Form):
    """Who bought the horse: somebody known, or a name and a way to reach them."""

    on = PastDay(label="Theirs from")
    buyer = forms.ModelChoiceField(
        label="New owner", queryset=people_on_file(), required=False, empty_label="Somebody new"
    )
    name = forms.CharField(label="Name, if new", max_length=120, required=False)
    phone = PhoneField(max_length=40, required=False)
    email = forms.EmailField(required=False)
    field_order = ["on", "buyer", "name", "phone", "email"]

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or self.cleaned_data
        name = data.get("name", "")
        if data.get("buyer") and name:
            self.add_error("name", "Choose somebody known or name somebody new, not both.")
        elif not data.get("buyer") and not name and not self.errors:
            self.add_error("buyer", "Choose the new owner, or write a name below.")
        elif name and (known := possible_doubles(name, data.get("phone", ""))):
            self.add_error("buyer", f"{known[0]} is written down already: choose them here.")
        return data

    def person(self) -> Person:
        """The buyer as known, or not yet saved."""
        data = self.cleaned_data
        chosen: Person | None = data["buyer"]
        return chosen or Person(name=data["name"], phone=data["phone"], email=data["email"])


class DeathForm(Dated, Form):
    on = PastDay(label="Died on")


class CouldNotForm(Form):
    cause = forms.ChoiceField(label="Why", choices=Visit.Cause.choices, widget=forms.RadioSelect)
    note = forms.CharField(widget=forms.Textarea, required=False, help_text="What you saw; no illness by name.")


class StopForm(Form):
    seen = forms.CharField(
        label="What you see",
        widget=forms.Textarea,
        max_length=2000,
        help_text="In plain words with the time, without naming an illness. The vet decides what it is.",
    )


class NextForm(Form):
    day = forms.DateField(label="Next visit", required=False)
    service = forms.ModelChoiceField(Service.objects.none())
    reason = forms.CharField(
        label="Or why there is none yet", max_length=300, required=False, help_text="The horse goes on the call list."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _choices(self, "service", offered_services())

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not self.errors and not data.get("day") and not data.get("reason"):
            raise forms.ValidationError("Set the next day, or say why there is none.")
        return data


class VisitPhotoForm(Form):
    photo = PhotoField(
        label="Photo",
        help_text="Where it was taken is not kept; nobody outside sees it. Sharing is asked of the owner.",
    )
    words = forms.CharField(label="What it shows", max_length=200, required=False)


class HireForm(Form):
    person = forms.ModelChoiceField(people_on_file(), label="Who hires it")
    since = forms.DateField(label="First day")
    until = forms.DateField(label="Last day")


EASE = [("", "–"), *((str(number), str(number)) for number in range(11))]


class SheetForm(Form):
    """What is written down once a visit: look-over on arrival, ease, reaction, note."""

    no_stop_sign = forms.BooleanField(label="No stop sign seen", required=False)
    is_dry = forms.BooleanField(label="Dry, no spray or liniment", required=False)
    moves_soundly = forms.BooleanField(label="Moving as usual", required=False)
    handler_present = forms.BooleanField(label="Handler present", required=False)
    electronics_away = forms.BooleanField(label="Phones and keys 18 in (46 cm) away", required=False)
    ease_before = forms.TypedChoiceField(choices=EASE, coerce=int, empty_value=None, required=False)
    ease_after = forms.TypedChoiceField(choices=EASE, coerce=int, empty_value=None, required=False)
    minutes = forms.IntegerField(min_value=1, max_value=300, required=False)
    reaction = forms.CharField(max_length=300, required=False)
    note = forms.CharField(widget=forms.Textarea(attrs={"rows": 3}), required=False)
    override_reason = forms.CharField(
        label="Reason to go on after “ask”", max_length=500, required=False, help_text=OVERRIDE_HELP
    )

    set_up = forms.MultipleChoiceField(
        label="Set-up list",
        choices=list(LISTS[StopList.Kind.SET_UP].items()),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    ARRIVAL = ("no_stop_sign", "is_dry", "moves_soundly", "handler_present", "electronics_away")

    def arrival_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.ARRIVAL]

    def arrival(self) -> ArrivalSeen:
        return ArrivalSeen(**{name: self.cleaned_data[name] for name in self.ARRIVAL})

    def session(self, service: Service, areas: tuple[AreaDone, ...]) -> SessionDone:
        data = self.cleaned_data
        return SessionDone(
            service=service,
            areas=areas,
            minutes=data["minutes"],
            ease_before=data["ease_before"],
            ease_after=data["ease_after"],
            reaction=data["reaction"],
        )


class AreaForm(Form):
    """One place on the body. Rows that are not ticked are not written down."""

    is_done = forms.BooleanField(label="Worked", required=False)
    area = forms.CharField(max_length=80, required=False)
    minutes = forms.IntegerField(min_value=1, max_value=120, required=False)
    applicator = forms.ChoiceField(required=False)
    setting = forms.IntegerField(min_value=1, max_value=20, required=False)
    reaction = forms.CharField(max_length=300, required=False)

    def __init__(self, *args: Any, applicators: Sequence[Applicator], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.applicators = {str(applicator.pk): applicator for applicator in applicators}
        field = self.fields["applicator"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101  (narrows the type)
        field.choices = [("", "–"), *((key, str(applicator)) for key, applicator in self.applicators.items())]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("is_done"):
            if not data.get("area"):
                self.add_error("area", "Name the area.")
            if not data.get("minutes") and "minutes" not in self.errors:
                self.add_error("minutes", "Write the minutes.")
        return data

    def used(self) -> str:
        """The applicator and setting of the row in words, empty when neither is filled in."""
        applicator = self.applicators.get(str(self["applicator"].value() or ""))
        setting = self["setting"].value()
        parts = [str(applicator) if applicator else "", f"setting {setting}" if setting else ""]
        return ", ".join(part for part in parts if part)

    def done(self) -> AreaDone | None:
        data = self.cleaned_data
        if not data.get("is_done"):
            return None
        return AreaDone(
            area=data["area"],
            minutes=data["minutes"],
            applicator=self.applicators.get(data["applicator"]),
            setting=data["setting"],
            reaction=data["reaction"],
        )


class BaseAreas(forms.BaseFormSet):  # type: ignore[type-arg]
    def areas(self) -> tuple[AreaDone, ...]:
        return tuple(area for form in self.forms if (area := form.done()) is not None)


AreaFormSet: type[BaseAreas] = forms.formset_factory(  # type: ignore[assignment]
    AreaForm, formset=BaseAreas, extra=0, max_num=40, absolute_max=40
)
