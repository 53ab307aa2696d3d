from collections.abc import Iterator, Sequence
from datetime import date
from fractions import Fraction
from typing import Any, NamedTuple

from crispy_forms.layout import Layout
from django import forms
from django.core.exceptions import ValidationError

from backoffice.documents.fields import PhotoField
from backoffice.ui.forms import Form, ModelForm
from clients.animals.facts import AnimalFacts
from clients.animals.microchip import problem_with_microchip, tidy_microchip
from clients.animals.models import Animal, Caution, Ownership, Role
from clients.animals.shares import parse_share, problem_with, say_share
from clients.animals.ueln import problem_with_ueln, tidy_ueln
from clients.people.forms import END_OF_MORE, PhoneField, choose_from, more
from clients.people.models import Barn, Person, VetPractice
from clients.people.queries import barns_named, people_on_file, possible_doubles

OLDEST_HORSE = 60
STILL_TO_COME = "This day is still to come."


class PastDay(forms.DateField):
    """A day on which something was said or done: today or earlier."""

    def __init__(self, *, today: date | None = None, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.today = today

    def clean(self, value: Any) -> date | None:
        day: date | None = super().clean(value)
        if day and self.today and day > self.today:
            raise ValidationError(STILL_TO_COME)
        return day


class Dated:
    """Mixed into forms that judge days: `today` is handed in, so that no form reads the clock."""

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        for field in self.fields.values():  # type: ignore[attr-defined]
            if isinstance(field, PastDay):
                field.today = today
                field.initial = field.initial or today


class AnimalForm(Dated, ModelForm):
    """A horse as it is; owners, roles, barn and health have pages of their own, since they are dated."""

    microchip = forms.CharField(required=False, help_text="15 digits; spaces are no fault.")
    ueln = forms.CharField(
        label="UELN", required=False, help_text="The life number in the passport: 15 letters and digits."
    )
    shares_photos = forms.TypedChoiceField(
        label="Photos may be shared",
        choices=[("", "Not asked"), ("yes", "Yes"), ("no", "No")],
        coerce=lambda answer: answer == "yes",
        empty_value=None,
        required=False,
    )
    layout = Layout(
        "name",
        "sex",
        "birth_year",
        "vet_practice",
        "handling",
        more("Looks, papers, isolation, events, photos"),
        "breed",
        "color",
        "markings",
        "microchip",
        "ueln",
        "passport_name",
        "isolation",
        "isolated_until",
        "event_on",
        "rules_read",
        "shares_photos",
        "note",
        END_OF_MORE,
    )

    class Meta:
        model = Animal
        fields = [
            "name",
            "sex",
            "birth_year",
            "vet_practice",
            "handling",
            "breed",
            "color",
            "markings",
            "microchip",
            "ueln",
            "passport_name",
            "isolation",
            "isolated_until",
            "event_on",
            "rules_read",
            "shares_photos",
            "note",
        ]
        labels = {"passport_name": "Name in the passport"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        animal: Animal | None = kwargs.get("instance")
        answer = (
            {True: "yes", False: "no"}.get(animal.shares_photos) if animal and animal.shares_photos is not None else ""
        )
        kwargs["initial"] = {"shares_photos": answer, **(kwargs.get("initial") or {})}
        super().__init__(*args, **kwargs)
        choose_from(VetPractice.objects.all(), self.fields["vet_practice"], "Not known yet")

    def clean_birth_year(self) -> int | None:
        year: int | None = self.cleaned_data["birth_year"]
        if year is None:
            return None
        if year > self.today.year:
            raise ValidationError("This year is still to come.")
        if self.today.year - year > OLDEST_HORSE:
            raise ValidationError(f"Born in {year}: a horse of {self.today.year - year} years? Check the year.")
        return year

    def clean_microchip(self) -> str:
        number = tidy_microchip(self.cleaned_data["microchip"])
        problem = problem_with_microchip(number) if number else ""
        if problem:
            raise ValidationError(problem)
        return number

    def clean_ueln(self) -> str:
        number = tidy_ueln(self.cleaned_data["ueln"])
        problem = problem_with_ueln(number) if number else ""
        if problem:
            raise ValidationError(problem)
        return number

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        if cleaned.get("isolated_until") and cleaned.get("isolation") == Animal.Isolation.CLEAN:
            self.add_error(
                "isolated_until", "An end goes with exposed or isolated. Choose one of them, or leave it empty."
            )
        return cleaned


class NewAnimalForm(AnimalForm):
    """A new horse: where it stands and whose it is. One person is everything until somebody else is named."""

    barn = forms.ModelChoiceField(queryset=Barn.objects.all(), empty_label="Choose a barn")
    owner = forms.ModelChoiceField(
        queryset=people_on_file(),
        empty_label="Choose a person",
        help_text="Owner, payer and handler in one. Shares and somebody else come on the horse's page.",
    )
    since = PastDay(label="Owner since")
    layout = Layout("barn", "owner", "since", *AnimalForm.layout.fields)

    class Meta(AnimalForm.Meta):
        fields = [*AnimalForm.Meta.fields, "barn"]


class ShareLine(NamedTuple):
    owner: forms.BoundField
    share: forms.BoundField


class OwnersForm(Dated, Form):
    """Owners and shares from a day on, in lines; an empty line counts for nothing."""

    since = forms.DateField(label="From", help_text="The first day on which these shares hold.")

    def __init__(self, *args: Any, owners: Sequence[Ownership], today: date, **kwargs: Any) -> None:
        self.numbers = range(1, max(len(owners) + 2, 4) + 1)
        # before the base prepares its fields, so that these lines are prepared with them
        self.base_fields = {**type(self).base_fields, **_share_fields(self.numbers)}  # type: ignore[misc]
        initial: dict[str, Any] = {"since": today}
        for number, row in enumerate(owners, start=1):
            initial |= {f"owner_{number}": row.person_id, f"share_{number}": say_share(row.share)}
        super().__init__(*args, initial=initial, today=today, **kwargs)

    @property
    def lines(self) -> Iterator[ShareLine]:
        for number in self.numbers:
            yield ShareLine(self[f"owner_{number}"], self[f"share_{number}"])

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or self.cleaned_data
        filled = [number for number in self.numbers if cleaned.get(f"owner_{number}") or cleaned.get(f"share_{number}")]
        for number in filled:
            self._read_line(number, is_alone=len(filled) == 1)
        if not self.errors:
            self.shares = [(cleaned[f"owner_{number}"], cleaned[f"part_{number}"]) for number in filled]
            self._judge_together(filled)
        return cleaned

    def _read_line(self, number: int, *, is_alone: bool) -> None:
        person, typed = self.cleaned_data.get(f"owner_{number}"), self.cleaned_data.get(f"share_{number}", "")
        if person is None and f"owner_{number}" not in self.errors:
            self.add_error(f"owner_{number}", "Whose share is this?")
        if not typed and not is_alone and f"share_{number}" not in self.errors:
            self.add_error(f"share_{number}", f"How much of the horse belongs to {person}?")
        elif f"share_{number}" not in self.errors:
            self._read_share(number, typed or "100 %")

    def _read_share(self, number: int, typed: str) -> None:
        try:
            self.cleaned_data[f"part_{number}"] = parse_share(typed)
        except ValueError as wrong:
            self.add_error(f"share_{number}", str(wrong))

    def _judge_together(self, filled: Sequence[int]) -> None:
        seen: set[Person] = set()
        for number in filled:
            person = self.cleaned_data[f"owner_{number}"]
            if person in seen:
                self.add_error(f"owner_{number}", f"{person} is named twice: add the two shares together.")
            seen.add(person)
        problem = problem_with([share for _, share in self.shares])
        if problem:
            self.add_error(f"share_{filled[-1]}" if filled else "owner_1", problem)

    shares: list[tuple[Person, Fraction]]


def _share_fields(numbers: range) -> dict[str, forms.Field]:
    fields: dict[str, forms.Field] = {}
    for number in numbers:
        fields[f"owner_{number}"] = forms.ModelChoiceField(
            label=f"Owner {number}", queryset=people_on_file(), required=False, empty_label="Nobody"
        )
        fields[f"share_{number}"] = forms.CharField(label=f"Share {number}", required=False)
    return fields


class RolesForm(Dated, Form):
    """Somebody else than the owner: who handles, who pays, who orders."""

    handler = forms.ModelChoiceField(
        label="Who handles the horse", queryset=people_on_file(), required=False, empty_label="The owner"
    )
    payer = forms.ModelChoiceField(
        label="Who pays",
        queryset=people_on_file(),
        required=False,
        empty_label="The owners, each their share",
        help_text="Somebody named here is billed in the owners' place.",
    )
    agent = forms.ModelChoiceField(
        label="Who orders for the owners",
        queryset=people_on_file(),
        required=False,
        empty_label="Nobody but the owners",
        help_text="An agent, such as a trainer. Ordering is not paying; the written authority belongs under Paperwork.",
    )
    since = forms.DateField(label="From")

    def __init__(self, *args: Any, facts: AnimalFacts, today: date, **kwargs: Any) -> None:
        held = {kind: role.person_id for kind, role in facts.roles.items()}
        super().__init__(*args, initial={**held, "since": today}, today=today, **kwargs)

    @property
    def holders(self) -> dict[Role.Kind, Person | None]:
        return {kind: self.cleaned_data[kind] for kind in Role.Kind}


class MoveForm(Dated, Form):
    barn = forms.ModelChoiceField(label="New barn", queryset=Barn.objects.none())
    on = PastDay(label="First day there")

    def __init__(self, *args: Any, animal: Animal, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choose_from(Barn.objects.exclude(pk=animal.barn_id), self.fields["barn"], "Choose a barn")


class CautionForm(Dated, ModelForm):
    said_on = PastDay(label="Said on")

    class Meta:
        model = Caution
        fields = ["area", "note", "said_by", "said_on"]
        labels = {"area": "Place on the body", "note": "What to mind", "said_by": "Who said it"}
        help_texts = {"area": "Such as near hock, or left side of the back."}


class CautionEndForm(Dated, Form):
    on = PastDay(label="No longer holds from")


class EnquiryForm(Dated, Form):
    """Who asked, where, and how to reach them. Somebody who may be known already is shown before anything is saved."""

    name = forms.CharField(max_length=120)
    phone = PhoneField(max_length=40, required=False)
    barn_name = forms.CharField(
        label="Barn",
        max_length=120,
        widget=forms.TextInput(attrs={"list": "barn-names", "autocomplete": "off"}),
        help_text="A known barn is used again, with its gate, power and times.",
    )
    horse_name = forms.CharField(label="Horse", max_length=80, required=False)
    asked_about = forms.CharField(
        label="What they asked", max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )
    email = forms.EmailField(required=False)
    on = PastDay(label="Asked on")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        data = args[0] if args else kwargs.get("data")
        self.doubles: list[Person] = []
        if data:
            self.doubles = possible_doubles(data.get("name", "")[:120], data.get("phone", "")[:40])
        if self.doubles:
            # before the base prepares its fields, so that this question is prepared with them
            self.base_fields = {"known": _known_field(self.doubles), **type(self).base_fields}  # type: ignore[misc]
        super().__init__(*args, **kwargs)
        if self.doubles:
            self.fields["known"].error_messages["required"] = "Somebody like this is written down already: choose."

    def clean_barn_name(self) -> str:
        name: str = self.cleaned_data["barn_name"]
        known = barns_named(name)
        if len(known) > 1:
            raise ValidationError(f"{len(known)} barns are called {name}. Give one of them a second word first.")
        return name

    @property
    def known(self) -> Person | None:
        chosen = self.cleaned_data.get("known")
        return next((person for person in self.doubles if str(person.pk) == chosen), None)


def _known_field(doubles: Sequence[Person]) -> forms.ChoiceField:
    choices = [(str(person.pk), _who(person)) for person in doubles]
    return forms.ChoiceField(
        label="Is it one of these?",
        choices=[*choices, ("new", "No, somebody new")],
        widget=forms.RadioSelect,
        help_text="The name or the number is the same. Whoever is known keeps one page.",
    )


def _who(person: Person) -> str:
    barn = person.asked_barn.name if person.asked_barn else ""
    return ", ".join(part for part in (person.name, person.phone, barn) if part)


class PhotoForm(Form):
    photo = PhotoField(
        label="Photo",
        help_text="The whole horse from the side serves best. Where it was taken is not kept; nobody outside sees it.",
    )
