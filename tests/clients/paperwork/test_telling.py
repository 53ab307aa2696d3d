from dataclasses import replace

from clients.paperwork.facts import State, as_record
from clients.paperwork.telling import facts_in_words
from tests.clients.paperwork.facts import DAY, answered, consents, ready, referred


def test_stored_facts_are_told_in_words():
    facts = referred(answered(consents(ready(), withdrawn_on=DAY), "in_foal", State.YES), answer="conditions")
    told = dict(facts_in_words(as_record(replace(facts, stop_notes=(DAY,)))))
    assert told["Work"] == ["Full body, 60 min, with a machine"]
    assert "In foal, or covered since: yes, Sun 1 Mar 2026" in told["Health, as told"]
    assert told["Consents"] == ["Ottilie Brackwater, Mon 5 Jan 2026 to Thu 31 Dec 2026, withdrawn Thu 12 Mar 2026"]
    assert told["Vet"] == ["Dr. Ada Lindqvist: yes, with conditions, until Fri 3 Apr 2026"]
    assert told["Stop notes"] == ["Thu 12 Mar 2026"]
    assert told["Law"] == ["Colorado: free (Invented board letter, Fri 2 Jan 2026)"]


def test_an_empty_or_older_record_is_told_as_far_as_it_goes():
    told = dict(facts_in_words({}))
    assert told["Health, as told"] == ["Nothing asked"]
    assert told["Law"] == ["No place: unknown"]
