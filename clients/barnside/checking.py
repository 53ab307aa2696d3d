"""What an entry must say, checked by the forms that a person fills in at the desk."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms

from backoffice.refusal import Refused
from backoffice.ui.forms import Form
from clients.animals.measure_form import MeasureForm
from clients.animals.models import Measure
from clients.barnside.models import BarnEvent, HandMoney
from clients.barnside.people import people_around
from clients.kit.queries import applicators_in_use
from clients.people.models import Person
from clients.visits.forms import AreaForm, SheetForm
from clients.visits.models import StopList, Visit
from clients.visits.stop_lists import LISTS

HOW = ("ease_before", "ease_after", "minutes", "reaction", "note")
MOST_AREAS = 40


class MoneyForm(Form):
    person = forms.ModelChoiceField(Person.objects.all())
    amount = forms.DecimalField(min_value=Decimal("0.01"), max_value=Decimal(100_000), decimal_places=2)
    method = forms.ChoiceField(choices=HandMoney.Method.choices)
    words = forms.CharField(max_length=120, required=False)
    slip = forms.RegexField(r"^P\d{1,8}-\d{4,6}$", max_length=16, required=False)


class ListForm(Form):
    done = forms.MultipleChoiceField(required=False)

    def __init__(self, *args: Any, kind: StopList.Kind, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["done"].choices = list(LISTS[kind].items())  # type: ignore[attr-defined]


class SignEntryForm(Form):
    form = forms.IntegerField()
    name_typed = forms.CharField(max_length=120)
    capacity = forms.CharField(max_length=20)
    read = forms.CharField(max_length=64, min_length=64)


def checked(form: forms.Form) -> dict[str, Any]:
    """The cleaned values, or a refusal with each fault and its field."""
    if form.is_valid():
        return form.cleaned_data
    raise Refused(" ".join(_fault(form, name, " ".join(map(str, errors))) for name, errors in form.errors.items()))


def _fault(form: forms.Form, name: str, said: str) -> str:
    """The fault with the name of its field, unless it says that itself."""
    label = str(form[name].label) if name in form.fields else ""
    return said if said.startswith(label) else f"{label}: {said}"


def arrival_of(values: Mapping[str, Any]) -> dict[str, bool]:
    cleaned = checked(SheetForm(values))
    return {name: cleaned[name] for name in SheetForm.ARRIVAL}


def how_of(values: Mapping[str, Any]) -> dict[str, Any]:
    """Only the fields that the entry names: one that is absent was not touched."""
    cleaned = checked(SheetForm(values))
    return {name: cleaned[name] for name in HOW if name in values}


def areas_of(values: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Each area with minutes, applicator, setting and reaction; one with no minutes is to be taken out."""
    rows = values.get("areas")
    if not isinstance(rows, list) or len(rows) > MOST_AREAS or not all(isinstance(row, dict) for row in rows):
        raise Refused("The areas of this entry cannot be read.")
    applicators = list(applicators_in_use())
    return [_area(row, applicators) for row in rows]


def _area(row: dict[str, Any], applicators: list[Any]) -> dict[str, Any]:
    name = str(row.get("area") or "").strip()[:80]
    if not name:
        raise Refused("Name the area.")
    if row.get("minutes") == 0:
        return {"area": name, "minutes": 0}
    cleaned = checked(AreaForm({**row, "is_done": True}, applicators=applicators))
    return {
        "area": cleaned["area"],
        "minutes": cleaned["minutes"],
        "applicator": int(cleaned["applicator"]) if cleaned["applicator"] else None,
        "setting": cleaned["setting"],
        "reaction": cleaned["reaction"],
    }


def money_of(event: BarnEvent, visit: Visit) -> dict[str, Any]:
    cleaned = checked(MoneyForm(event.values))
    if cleaned["person"] not in [person for person, _ in people_around(visit)]:
        raise Refused(f"{cleaned['person']} has no part in {visit.animal}: say at the desk whose money it is.")
    return cleaned


def measure_of(values: Mapping[str, Any], by: str, on: date) -> tuple[Measure.Kind, MeasureForm]:
    """The kind of the measure and its form, checked as at the desk; the day is that of the entry."""
    kind = values.get("scale")
    if kind not in Measure.Kind.values:
        raise Refused("The scale of this measure is not known here.")
    scale = Measure.Kind(str(kind))
    said = {**values, "taken_on": on.isoformat()}
    form = MeasureForm(said, kind=scale, in_inches=bool(values.get("inches")), by=by, today=on)
    checked(form)
    return scale, form
