"""No table is forgotten: each that hangs on a person or a horse and holds words has a rule of keeping, or a cause."""

from django.apps import apps
from django.db import models

from backoffice.erasing.traces import RULE_OF
from clients.animals.models import Animal
from clients.people.models import Person

# Hangs on a person or a horse, and holds no words about people beyond what its own page says.
WITHOUT_WORDS = {
    "clients.person": "emptied as contact",
    "clients.ownership": "a share and its days",
    "clients.role": "a kind and its days",
    "clients.form": "a state, days and a cap; its words are the signature's",
    "clients.plan": "a title of the work; its one reason is emptied with the horse",
    "clients.historyfile": "for whom it was made",
    "clients.barn": "a place",
    "clients.told": "what kind of word was given, and when",
    "billing.quote": "its rule depends on its answer",
    "billing.optionschedule": "a schedule",
    "billing.posting": "an account and an amount",
    "billing.packagesold": "the name of a package",
    "billing.monthlyrun": "the name of a plan",
    "billing.deduction": "words of the quote on an amount",
    "billing.payercap": "an amount and its days",
    "billing.personterms": "a price list and its days",
}
WORDS = (models.CharField, models.TextField, models.JSONField)


def test_each_table_about_people_or_horses_has_its_rule_or_its_cause():
    forgotten = [
        model._meta.label_lower
        for model in apps.get_models()
        if _hangs_on_somebody(model)
        and _has_words(model)
        and model._meta.label_lower not in {**RULE_OF, **WITHOUT_WORDS}
    ]
    assert forgotten == []


def _hangs_on_somebody(model: type[models.Model]) -> bool:
    related = {field.related_model for field in model._meta.concrete_fields if field.related_model}
    return model in (Person, Animal) or bool(related & {Person, Animal})


def _has_words(model: type[models.Model]) -> bool:
    return any(isinstance(field, WORDS) for field in model._meta.concrete_fields)
