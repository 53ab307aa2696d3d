"""The page that draws an option by hand: its own form, and a schedule for all horses or for each."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from django.http import HttpRequest

from billing.quotes.models import Option, OptionSchedule, Quote
from billing.quotes.option_forms import OptionForm, ScheduleForm, option_initial, schedule_initial
from billing.quotes.options import Schedule
from clients.animals.models import Animal


@dataclass(frozen=True, slots=True)
class Part:
    """The schedule form of one horse; without a horse it stands for all."""

    form: ScheduleForm
    animal: Animal | None = None


@dataclass(frozen=True, slots=True)
class Drawing:
    horses: Sequence[Animal]
    head: OptionForm
    parts: Sequence[Part]

    @property
    def by_horse(self) -> bool:
        return self.parts[0].animal is not None

    @property
    def forms(self) -> list[OptionForm | ScheduleForm]:
        return [*(part.form for part in self.parts), self.head]

    def is_valid(self) -> bool:
        return all([form.is_valid() for form in self.forms])

    @property
    def has_errors(self) -> bool:
        return any(form.is_bound and form.errors for form in self.forms)

    @property
    def name(self) -> str:
        return self.head.named_by(list(self.schedules().values()))

    def schedules(self) -> dict[int, Schedule]:
        """The schedule of each horse. Those that share a machine hire it with the first horse that hires."""
        forms = {part.animal.pk: part.form for part in self.parts if part.animal is not None}
        forms = forms or {animal.pk: self.parts[0].form for animal in self.horses}
        drawn = {pk: form.schedule() for pk, form in forms.items()}
        hirers = [pk for pk, each in drawn.items() if each.by == OptionSchedule.By.HIRE]
        sharing = {pk for pk in hirers[1:] if forms[pk].cleaned_data["one_machine"]}
        return {pk: replace(each, hired_with=hirers[0]) if pk in sharing else each for pk, each in drawn.items()}


def drawing_of(
    request: HttpRequest, quote: Quote, horses: Sequence[Animal], option: Option | None = None, *, on: date
) -> Drawing:
    """The forms as sent, or as they open: on an empty option, or on one that exists."""
    sent = request.POST if request.method == "POST" else None
    schedules = {each.animal_id: each for each in option.schedules.prefetch_related("phases")} if option else {}
    initial = {pk: schedule_initial(each) for pk, each in schedules.items()}
    several = len(horses) > 1
    by_horse = several and ("each" in request.GET or _differ(list(schedules.values())))
    head = OptionForm(sent, on=on, initial=option_initial(option) if option else None)
    if by_horse:
        parts = [
            Part(
                ScheduleForm(
                    sent, term=quote.days, several=several, prefix=f"h{animal.pk}", initial=initial.get(animal.pk)
                ),
                animal,
            )
            for animal in horses
        ]
    else:
        first = initial.get(horses[0].pk)
        if several and first is not None:  # whether the machine is shared is seen at the second horse
            first["one_machine"] = initial[horses[1].pk]["one_machine"]
        parts = [Part(ScheduleForm(sent, term=quote.days, several=several, initial=first))]
    return Drawing(horses, head, parts)


def _differ(schedules: Sequence[OptionSchedule]) -> bool:
    seen = [
        (
            each.by,
            each.follow_ups,
            each.days_off,
            each.on_day_off,
            each.shift,
            [str(p) for p in each.phases.all()],
            [p.spots_per_day for p in each.phases.all()],
        )
        for each in schedules
    ]
    return any(each != seen[0] for each in seen[1:])
