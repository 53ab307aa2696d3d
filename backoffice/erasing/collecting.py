"""All that is held about a person, asked of both sides; the money side only where it is installed."""

from datetime import date

from django.apps import apps

from backoffice.keeping.queries import rules_on
from backoffice.keeping.rules import Held, Verdict, judge
from clients.people.models import Person
from clients.records import about_person as care


def everything_held(person: Person, on: date) -> list[Held]:
    held = list(care.held_about(person, on))
    if apps.is_installed("billing"):
        from billing.records import about_person as money

        held += money.held_about(person, on)
    return held


def verdicts_on(person: Person, on: date) -> list[Verdict]:
    """What would go and what would stay on that day, and why: the dry run, and what an erasure does."""
    return judge(everything_held(person, on), rules_on(on), on)


def in_the_way(person: Person, on: date) -> list[str]:
    """Sentences on what has to be ended before the person can be erased."""
    sentences = list(care.in_the_way(person, on))
    if apps.is_installed("billing"):
        from billing.records import about_person as money

        sentences += money.in_the_way(person, on)
    return sentences
