from datetime import date
from typing import Any, cast

from crispy_forms.layout import Fieldset, Layout
from django import forms
from django.core.exceptions import ValidationError

from backoffice.ui.forms import Form
from clients.animals.models import Animal
from clients.paperwork.actions import LONGEST_TEXT
from clients.paperwork.facts import KINDS_OF_WORK
from clients.paperwork.filling import unknown_fields
from clients.paperwork.models import Form as FormRow
from clients.paperwork.models import PlaceLaw, Signature, VetReferral, Wording, WordingVersion
from clients.paperwork.referring import PLACES, VetWord
from clients.paperwork.signers import name_to_type
from clients.paperwork.strokes import read_strokes
from clients.people.models import Barn, VetPractice
from clients.people.names import folded
from clients.people.queries import people_on_file


class VersionChoice(forms.ModelChoiceField):  # type: ignore[type-arg]
    def label_from_instance(self, obj: Any) -> str:
        kind = obj.wording.get_kind_display()
        title = kind if kind == obj.wording.title else f"{kind}: {obj.wording.title}"
        place = f", for {obj.place}" if obj.place else ""
        return f"{title}, version {obj.number}{place}"


class AskForm(Form):
    """Who is to sign what, about which horse or barn."""

    version = VersionChoice(queryset=WordingVersion.objects.none(), label="Wording", empty_label=None)
    signer = forms.ModelChoiceField(people_on_file(), label="Who signs", empty_label="Choose a person")
    animal = forms.ModelChoiceField(
        Animal.objects.filter(died_on__isnull=True),
        label="Horse",
        required=False,
        empty_label="No one horse",
        help_text="A consent and a photo permission are about one horse.",
    )
    barn = forms.ModelChoiceField(
        Barn.objects.all(), required=False, empty_label="No one barn", help_text="A release is about one barn."
    )
    agent = forms.ModelChoiceField(
        people_on_file(),
        label="Who may act",
        required=False,
        empty_label="Nobody",
        help_text="For an agent's authority only.",
    )
    cap = forms.DecimalField(
        label="Spending cap a month",
        required=False,
        min_value=0,
        max_digits=9,
        decimal_places=2,
        help_text="For an agent's authority only; tax included. Empty means no cap.",
    )

    def __init__(self, *args: Any, versions: list[WordingVersion], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows = WordingVersion.objects.filter(pk__in=[version.pk for version in versions]).select_related("wording")
        cast(VersionChoice, self.fields["version"]).queryset = rows.select_related("wording").order_by(
            "wording__kind", "wording__title"
        )


class SignerForm(Form):
    """Who signs, and as what."""

    capacity = forms.ChoiceField(label="I sign as", widget=forms.RadioSelect)
    name_typed = forms.CharField(label="Name", max_length=120)

    def __init__(self, *args: Any, row: FormRow, capacities: list[Signature.Capacity], **kwargs: Any) -> None:
        self.row = row
        super().__init__(*args, **kwargs)
        field = cast(forms.ChoiceField, self.fields["capacity"])
        field.choices = [(choice.value, choice.label) for choice in capacities]
        field.initial = capacities[0].value if capacities else None
        wanted = {name_to_type(row, choice) for choice in capacities} - {""}
        help_text = "Type " + " or ".join(f"“{name}”" for name in sorted(wanted)) + ", as it stands on the form."
        self.fields["name_typed"].help_text = help_text if wanted else "Your own name; you sign for the organization."

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        name, capacity = cleaned.get("name_typed"), cleaned.get("capacity")
        if name and capacity:
            wanted = name_to_type(self.row, capacity)
            if wanted and folded(name) != folded(wanted):
                self.add_error("name_typed", f"This differs from the name on the form, {wanted}.")
        return cleaned


class SignForm(SignerForm):
    """Name, role and drawn signature, with the digest of the text that was read."""

    strokes = forms.CharField(label="Signature", max_length=600_000, required=False, widget=forms.HiddenInput)
    read = forms.CharField(max_length=64, required=False, widget=forms.HiddenInput)

    def clean_strokes(self) -> list[Any]:
        given = self.cleaned_data["strokes"]
        try:
            return list(read_strokes(given or "[]"))
        except ValueError as fault:
            raise ValidationError(str(fault)) from None

    @property
    def drawn(self) -> str:
        """The strokes as they were sent, so that a form that comes back with errors loses no signature."""
        return str(self["strokes"].value() or "")

    def signed(self) -> dict[str, Any]:
        """What `sign_form` takes of it."""
        given = self.cleaned_data
        return {
            "name_typed": given["name_typed"],
            "capacity": given["capacity"],
            "strokes": given["strokes"],
            "read_sha256": given["read"],
        }


class OwnerSignForm(SignForm):
    """By private link: first the consent to an electronic record, as the notice above it explains."""

    electronic = forms.BooleanField(
        label="I can read this page and agree to sign electronically",
        help_text="As the notice above explains. You may have the form on paper instead.",
    )
    field_order = ["electronic", "capacity", "name_typed", "strokes", "read"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["electronic"].error_messages["required"] = "Tick this to sign here, or ask for the form on paper."


class ReferralForm(Form):
    practice = forms.ModelChoiceField(VetPractice.objects.all(), label="Vet practice", empty_label="Choose a practice")
    asked = forms.CharField(
        label="What the vet is asked",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 8}),
        help_text="The vet reads this on a private page. Say what is recorded and what is planned, and judge nothing.",
    )


class CallForm(Form):
    """What the vet said on the telephone."""

    vet_name = forms.CharField(label="Who spoke", max_length=120)
    said = forms.CharField(
        label="What was said",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 5}),
        help_text="A note with its day and your name. Work that needs the vet still needs the answer in writing.",
    )
    says_no = forms.BooleanField(
        label="It was a no", required=False, help_text="A no holds the horse at once, until a later written yes."
    )


class VetForm(Form):
    """The vet's own page."""

    answer = forms.ChoiceField(
        label="May this horse have sessions?",
        choices=[choice for choice in VetReferral.Answer.choices if choice[0] != VetReferral.Answer.WAITING],
        widget=forms.RadioSelect,
    )
    service_kinds = forms.MultipleChoiceField(
        label="Services", choices=list(KINDS_OF_WORK.items()), required=False, widget=forms.CheckboxSelectMultiple
    )
    places = forms.MultipleChoiceField(
        label="Places on the body",
        choices=[(place, place) for place in PLACES],
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Nothing ticked means the whole body.",
    )
    max_minutes = forms.IntegerField(label="Minutes a session, at most", required=False, min_value=1, max_value=300)
    conditions = forms.CharField(
        label="Conditions, or what you wish to say", max_length=2000, required=False, widget=forms.Textarea
    )
    since = forms.DateField(label="From", required=False, help_text="A yes needs both days.")
    until = forms.DateField(label="Until", required=False)
    vet_name = forms.CharField(label="Your name", max_length=120)
    registration_number = forms.CharField(label="Registration or license number", max_length=60)
    examined_on = forms.DateField(label="Day you examined the horse")
    is_vet = forms.BooleanField(label="I am the vet named here, and this is my written answer.")

    layout = Layout(
        "answer",
        Fieldset("Limits", "service_kinds", "places", "max_minutes", "conditions"),
        Fieldset("Days on which a yes holds", "since", "until"),
        Fieldset("Who answers", "vet_name", "registration_number", "examined_on", "is_vet"),
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        self.today = today
        super().__init__(*args, **kwargs)
        self.fields["service_kinds"].help_text = "Nothing ticked means every service."
        self.fields["is_vet"].error_messages["required"] = "Tick this to give the answer."

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("answer") in (VetReferral.Answer.YES, VetReferral.Answer.CONDITIONS):
            self._clean_days(cleaned.get("since"), cleaned.get("until"))
        limits = any(cleaned.get(name) for name in ("conditions", "max_minutes", "places"))
        if cleaned.get("answer") == VetReferral.Answer.CONDITIONS and not limits and "conditions" not in self.errors:
            self.add_error("conditions", "Write the conditions, or choose a plain yes.")
        examined = cleaned.get("examined_on")
        if examined and examined > self.today:
            self.add_error("examined_on", "This day is still to come.")
        return cleaned

    def _clean_days(self, since: date | None, until: date | None) -> None:
        for name, day in (("since", since), ("until", until)):
            if day is None and name not in self.errors:
                self.add_error(name, "A yes has a first day and a last day.")
        if since and until and until < since:
            self.add_error("until", "The last day is before the first.")
        elif until and until < self.today:
            self.add_error("until", "The last day is already past.")

    def word(self) -> VetWord:
        given = self.cleaned_data
        return VetWord(**{name: given[name] for name in VetWord.__dataclass_fields__})


class CloseStopNoteForm(Form):
    vet_said = forms.CharField(
        label="What the vet said, and which vet", max_length=2000, widget=forms.Textarea(attrs={"rows": 5})
    )


class VersionForm(Form):
    """The next version of a wording."""

    text = forms.CharField(max_length=LONGEST_TEXT, widget=forms.Textarea(attrs={"rows": 18}))
    valid_months = forms.IntegerField(label="Holds for, in months", min_value=1, max_value=120, initial=12)
    must_sign_again = forms.BooleanField(
        label="Forms already signed must be signed again",
        required=False,
        help_text="Until then, permission to work says hold. Leave it off where the meaning stays the same.",
    )

    signed_by = forms.MultipleChoiceField(
        label="Who may sign it",
        choices=Signature.Capacity.choices,
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="None ticked: whoever may sign for the horse or the place.",
    )
    place = forms.CharField(
        label="Only for this state or country",
        max_length=80,
        required=False,
        help_text="As under Settings, Business. Empty: everywhere.",
    )
    warning = forms.CharField(
        label="Statutory warning",
        max_length=4000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="Where the law of the place asks for one: paste it from your own source. It is printed as it stands.",
    )
    warning_source = forms.CharField(label="Where you found the warning", max_length=300, required=False)
    warning_on = forms.DateField(label="Its date", required=False, widget=forms.DateInput(attrs={"type": "date"}))

    def clean_text(self) -> str:
        text: str = self.cleaned_data["text"]
        strange = unknown_fields(text)
        if strange:
            raise ValidationError(f"{{{strange[0]}}} is not a field; the fields are listed beside the text.")
        return text

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if given.get("warning"):
            for name in ("warning_source", "warning_on"):
                if not given.get(name) and name not in self.errors:
                    self.add_error(name, "A statutory warning is pasted with its source and its date.")
        return given


class WordingForm(VersionForm):
    kind = forms.ChoiceField(choices=Wording.Kind.choices)
    title = forms.CharField(max_length=120)
    field_order = ["kind", "title", "text", "valid_months"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.fields["must_sign_again"]


class LawForm(Form):
    place = forms.CharField(label="State or country", max_length=80)
    uses_machine = forms.TypedChoiceField(
        label="Kind of work",
        choices=[("yes", "Work with a machine"), ("no", "Work by hand")],
        coerce=lambda value: value == "yes",
        widget=forms.RadioSelect,
    )
    rule = forms.ChoiceField(label="What you found", choices=PlaceLaw.Rule.choices, widget=forms.RadioSelect)
    source = forms.CharField(
        max_length=300, help_text="Who told you, or where it is written: a letter, a page, a call with its date."
    )
