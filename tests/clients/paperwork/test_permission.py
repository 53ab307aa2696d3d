"""The rule table, every rule alone and every pair together.

Mutations were tried on the four modules of rules (comparisons turned and shifted, conditions forced, levels exchanged,
rules dropped, numbers raised): each fails a test here or in `test_own_rules.py`, but for two in a type annotation
and two at the edge of a written yes, where no sentence is asked for: a yes that is in force covers the work.
"""

import itertools
import json
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

import pytest

from clients.paperwork.facts import Look, Owner, Person, State, WhoSigns, Work, as_record
from clients.paperwork.paper_rules import consent_until
from clients.paperwork.permission import permission_to_work
from tests.clients.paperwork.facts import (
    BREAKERS,
    CO_OWNER,
    DAY,
    OWNER,
    STANDING_KINDS,
    STOP_KINDS,
    STRANGER,
    TRAINER,
    answered,
    consents,
    law,
    paper,
    ready,
    referred,
    with_trainer,
)

# Breakers that speak of the same one fact: together the later one stands alone.
SAME_FACT = [
    {"epm yes", "epm not asked", "epm asked long ago"},
    {"in_foal yes", "in_foal not asked"},
    {"slow_healing yes", "slow_healing not asked"},
    {"dose-critical yes", "dose_critical not asked"},
    {"law not allowed", "law vet first", "law unknown"},
    {"stop sign", "no look-over"},
]
CONSENT_CODES = ("consent_", "signer_", "owner_changed", "sign_again")
CONSENT = {name for name, (_, _, code) in BREAKERS.items() if code.startswith(CONSENT_CODES)}
HEALTH_CODES = ("stop_", "vet_", "dose_")
HEALTH = [name for name, (_, _, code) in BREAKERS.items() if code.startswith(HEALTH_CODES)]
NEEDS_THE_VET = {f"{kind} yes" for kind in STOP_KINDS} | {
    "dose-critical yes",
    "law vet first",
    "plan only with the vet",
}
LIMITED_YES = {"vet limits minutes", "vet limits places"}


def codes(facts) -> set[str]:
    return {reason.code for reason in permission_to_work(facts).reasons}


def pairs_that_add_up():
    for first, second in itertools.combinations(BREAKERS, 2):
        if any({first, second} <= group for group in SAME_FACT):
            continue
        if "no consent" in (first, second) and {first, second} & CONSENT:
            continue
        if {first, second} & LIMITED_YES and {first, second} & (NEEDS_THE_VET | {"vet says no"}):
            continue  # a limited yes is a yes: see the tests of the vet below
        if {first, second} == LIMITED_YES:
            continue  # two answers: the later one counts
        if "a co-owner has not signed" in (first, second) and {first, second} & (CONSENT | {"no consent"}):
            continue  # who has not signed is asked once a consent counts
        yield first, second


def test_a_horse_with_everything_in_order_is_ready_without_a_word():
    permission = permission_to_work(ready())
    assert (permission.result, permission.reasons, permission.notes) == ("ready", (), ())


@pytest.mark.parametrize("name", BREAKERS)
def test_each_rule_alone_gives_its_result_and_reason(name):
    change, result, code = BREAKERS[name]
    permission = permission_to_work(change(ready()))
    assert permission.result == result
    assert [(reason.code, reason.result) for reason in permission.reasons] == [(code, result)]
    assert permission.reasons[0].sentence
    assert permission.reasons[0].clears
    assert permission.reasons[0].who


@pytest.mark.parametrize(("first", "second"), list(pairs_that_add_up()))
def test_every_pair_of_rules_shows_both_reasons_and_the_stricter_result(first, second):
    (change_1, result_1, code_1), (change_2, result_2, code_2) = BREAKERS[first], BREAKERS[second]
    permission = permission_to_work(change_2(change_1(ready())))
    assert {reason.code for reason in permission.reasons} == {code_1, code_2}
    assert permission.result == ("hold" if "hold" in (result_1, result_2) else "ask")
    assert permission_to_work(change_1(change_2(ready()))) == permission


def test_holds_are_named_before_asks():
    facts = answered(replace(ready(), consents=()), "epm", State.NOT_ASKED)
    assert [reason.result for reason in permission_to_work(facts).reasons] == ["hold", "ask"]


# The vet


@pytest.mark.parametrize("kind", STOP_KINDS)
def test_a_vets_written_yes_lets_a_stop_and_ask_horse_be_worked(kind):
    assert codes(referred(answered(ready(), kind, State.YES))) == set()


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"until": DAY - timedelta(1)}, "ended on Wed 11 Mar 2026"),
        ({"since": DAY + timedelta(1)}, "begins on Fri 13 Mar 2026"),
        ({"until": None}, "ask the horse's vet"),
        ({"services": frozenset({"spot"})}, "names other services"),
        ({"services": frozenset({"spot"}), "until": DAY}, "names other services"),
        ({"services": frozenset({"spot"}), "since": DAY}, "names other services"),
        ({"answer": "waiting", "answered_on": None}, "has not answered"),
        ({"answer": "no"}, "answered no"),
    ],
)
def test_a_referral_that_does_not_reach_the_day_or_service_leaves_the_hold_and_says_why(change, words):
    permission = permission_to_work(referred(answered(ready(), "epm", State.YES), **change))
    reason = next(one for one in permission.reasons if one.code == "stop_epm")
    assert permission.result == "hold"
    assert words in reason.sentence


def test_a_yes_to_other_services_is_told_before_a_question_that_waits():
    facts = referred(answered(ready(), "epm", State.YES), services=frozenset({"spot"}))
    permission = permission_to_work(referred(facts, answer="waiting", answered_on=None))
    assert "names other services" in permission.reasons[0].sentence


@pytest.mark.parametrize("change", [{"until": DAY}, {"since": DAY}, {"services": frozenset({"full"})}])
def test_a_referral_holds_on_its_first_and_on_its_last_day_and_for_the_services_it_names(change):
    assert codes(referred(answered(ready(), "epm", State.YES), **change)) == set()


def test_a_referral_that_ended_or_names_another_service_is_nothing_where_none_is_needed():
    assert codes(referred(ready(), until=DAY - timedelta(1))) == set()
    assert codes(referred(ready(), services=frozenset({"spot"}))) == set()
    assert codes(referred(ready(), answer="waiting", answered_on=None)) == set()


def test_a_no_about_another_service_does_not_hold_this_one():
    assert codes(referred(ready(), answer="no", services=frozenset({"spot"}))) == set()


def test_the_latest_answer_counts_whichever_way_it_turned():
    yes_then_no = referred(referred(ready()), answer="no", answered_on=date(2026, 2, 20))
    no_then_yes = referred(referred(ready(), answer="no"), answered_on=date(2026, 2, 20))
    assert codes(yes_then_no) == {"vet_no"}
    assert codes(no_then_yes) == set()
    assert codes(answered(yes_then_no, "epm", State.YES)) == {"vet_no", "stop_epm"}


def test_answers_follow_the_days_on_which_they_were_given_not_asked():
    asked_first_answered_last = {"answer": "no", "asked_on": date(2026, 1, 1), "answered_on": date(2026, 3, 1)}
    facts = referred(referred(ready(), **asked_first_answered_last), answered_on=date(2026, 2, 20))
    assert codes(facts) == {"vet_no"}
    assert "answered no on Sun 1 Mar 2026" in permission_to_work(facts).reasons[0].sentence


def test_law_that_wants_the_vet_first_is_met_by_a_written_yes():
    assert codes(referred(law("vet_first")(ready()))) == set()
    assert codes(referred(law("not_allowed")(ready()))) == {"law_not_allowed"}


def test_nothing_recorded_about_the_law_is_unknown():
    facts = replace(ready(), law=replace(ready().law, rule="unknown", recorded_on=None))
    permission = permission_to_work(facts)
    assert permission.result == "ask"
    assert "You recorded nothing about work with a machine in Colorado." in permission.reasons[0].sentence


def test_a_dose_critical_medicine_asks_or_holds_by_the_setting_and_not_with_the_vets_yes():
    given = answered(ready(), "dose_critical", State.YES)
    assert permission_to_work(given).result == "ask"
    assert permission_to_work(replace(given, rules=replace(given.rules, dose_critical_holds=True))).result == "hold"
    assert codes(referred(given)) == set()


def test_the_vets_minutes_are_the_most_that_may_be_planned():
    assert codes(referred(ready(), max_minutes=60)) == set()
    assert codes(referred(ready(), max_minutes=59)) == {"vet_minutes"}
    limited = permission_to_work(referred(ready(), max_minutes=59, answered_on=date(2026, 2, 3)))
    assert "Written on Tue 3 Feb 2026." in limited.reasons[0].sentence
    assert codes(replace(referred(ready(), max_minutes=20), work=Work("full", uses_machine=True))) == set()
    assert codes(referred(answered(ready(), "epm", State.YES), max_minutes=20)) == {"vet_minutes"}


def test_a_full_body_goes_beyond_the_places_that_the_vet_named_and_says_which():
    limited = referred(ready(), places=("Withers", "Hocks"), answered_on=date(2026, 2, 3))
    reason = permission_to_work(limited).reasons[0]
    assert reason.sentence.startswith("Dr. Ada Lindqvist allows these places only: Withers, Hocks; the whole body is")
    assert "Written on Tue 3 Feb 2026." in reason.sentence
    assert reason.who == "The practitioner, or the horse's vet"


@pytest.mark.parametrize(
    ("kind", "places", "outside"),
    [
        ("spot", (), ""),
        ("full", ("Withers", "Hocks"), ""),
        ("spot", ("Near hock",), ""),
        ("spot", ("Withers", "Stifles", "Knees"), "Stifles, Knees"),
    ],
)
def test_the_places_to_be_worked_are_held_against_those_that_the_vet_named(kind, places, outside):
    facts = replace(ready(), work=Work(kind, uses_machine=True, places=places))
    permission = permission_to_work(referred(facts, places=("Withers", "Hocks")))
    if outside:
        assert [reason.code for reason in permission.reasons] == ["vet_places"]
        assert f"planned beyond them: {outside}." in permission.reasons[0].sentence
    else:
        assert permission.reasons == ()
        assert [note.code for note in permission.notes] == ["vet_places"]


def test_a_limited_yes_lets_a_stop_and_ask_horse_be_worked_within_it():
    facts = replace(answered(ready(), "epm", State.YES), work=Work("spot", uses_machine=True, places=("Withers",)))
    assert codes(referred(facts, places=("Withers",))) == set()
    assert codes(referred(facts, places=("Croup",))) == {"vet_places"}


def test_a_plan_that_needs_the_vet_is_followed_only_with_a_written_yes_for_the_day():
    plan = replace(ready(), work=replace(ready().work, vet_first="After the vet's visit"))
    assert codes(plan) == {"vet_first"}
    assert "After the vet's visit is followed only with the vet." in permission_to_work(plan).reasons[0].sentence
    assert codes(referred(plan)) == set()
    assert codes(referred(plan, until=DAY - timedelta(1))) == {"vet_first"}


def test_the_vets_conditions_are_a_note():
    permission = permission_to_work(referred(ready(), answer="conditions", conditions="Not below the knee."))
    assert permission.result == "ready"
    assert [str(note) for note in permission.notes] == ["Dr. Ada Lindqvist says: Not below the knee."]


def test_a_machine_is_never_hired_out_for_a_stop_and_ask_horse_even_with_the_vets_yes():
    facts = referred(answered(ready(), "epm", State.YES))
    assert codes(replace(facts, work=replace(facts.work, for_hire=True))) == {"stop_epm"}


# Asking


@pytest.mark.parametrize("kind", STANDING_KINDS)
def test_a_question_with_no_answer_at_all_is_not_asked(kind):
    facts = replace(ready(), health=tuple(answer for answer in ready().health if answer.kind != kind))
    assert codes(facts) == {f"ask_{kind}"}


def test_an_answer_is_good_for_as_many_days_as_the_setting_says_and_not_one_more():
    on_the_day = answered(ready(), "epm", State.NONE, DAY - timedelta(days=90))
    assert codes(on_the_day) == set()
    assert codes(replace(on_the_day, rules=replace(on_the_day.rules, reask_days=89))) == {"ask_epm"}


def test_an_old_yes_still_holds_and_is_asked_again():
    assert codes(answered(ready(), "epm", State.YES, date(2025, 1, 1))) == {"stop_epm", "ask_epm"}


def test_a_gelding_is_not_asked_whether_he_is_in_foal():
    facts = replace(ready(), health=tuple(a for a in ready().health if a.kind != "in_foal"), may_be_in_foal=False)
    assert codes(facts) == set()


def test_facts_of_one_day_are_not_missed_at_booking():
    assert codes(ready()) == set()
    assert codes(replace(ready(), look=Look.CLEAR)) == set()


# Paper


def two_owners():
    owners = (Owner(OWNER, "Ottilie Brackwater"), Owner(CO_OWNER, "Imani Velloran"))
    return consents(replace(ready(), owners=owners), owners_then=frozenset({OWNER, CO_OWNER}))


def test_any_one_owner_may_sign():
    assert codes(two_owners()) == set()


def partners(*shares: str, rule: WhoSigns):
    """As many owners as shares; the first has signed."""
    owners = tuple(Owner(pk, f"Owner {pk}", share=Fraction(share)) for pk, share in enumerate(shares, start=1))
    facts = replace(ready(), owners=owners, rules=replace(ready().rules, who_signs=rule))
    return consents(facts, owners_then=frozenset(owner.pk for owner in owners))


def also_signed(facts, owner: int, **changes):
    then = frozenset(each.pk for each in facts.owners)
    return replace(facts, consents=(*facts.consents, paper(pk=20 + owner, signer=owner, owners_then=then, **changes)))


def missing(facts) -> list[str]:
    reasons = permission_to_work(facts).reasons
    assert {reason.code for reason in reasons} <= {"co_owner_missing"}
    return [reason.who for reason in reasons]


def test_all_owners_sign_where_the_rule_is_all():
    facts = partners("1/2", "1/4", "1/4", rule=WhoSigns.ALL)
    assert missing(facts) == ["Owner 2", "Owner 3"]
    assert missing(also_signed(facts, 2)) == ["Owner 3"]
    assert missing(also_signed(also_signed(facts, 2), 3)) == []
    assert missing(also_signed(also_signed(facts, 2), 3, until=DAY - timedelta(1))) == ["Owner 3"]


def test_owners_of_more_than_half_sign_where_the_rule_is_the_majority():
    assert missing(partners("51/100", "49/100", rule=WhoSigns.MAJORITY)) == []
    assert missing(partners("1/2", "1/2", rule=WhoSigns.MAJORITY)) == ["Owner 2"]
    thirds = partners("1/3", "1/3", "1/3", rule=WhoSigns.MAJORITY)
    assert missing(thirds) == ["Owner 2", "Owner 3"]
    assert missing(also_signed(thirds, 3)) == []


def named(owner: int, by: int, **changes):
    return paper(pk=30 + by, signer=by, agent=owner, **changes)


def test_a_managing_owner_signs_alone_once_every_other_owner_has_named_them_in_writing():
    facts = partners("1/3", "1/3", "1/3", rule=WhoSigns.MANAGING)
    assert missing(facts) == ["Owner 2", "Owner 3"]
    assert missing(replace(facts, authorities=(named(1, by=2),))) == ["Owner 3"]
    assert missing(replace(facts, authorities=(named(1, by=2), named(1, by=3)))) == []
    assert missing(replace(facts, authorities=(named(2, by=1), named(2, by=3)))) == ["Owner 2"]
    assert missing(also_signed(also_signed(facts, 2), 3)) == []


def test_the_guardian_of_a_managing_owner_is_enough_beside_a_co_owner_who_also_signed():
    facts = partners("1/3", "1/3", "1/3", rule=WhoSigns.MANAGING)
    first = replace(facts.owners[0], guardian=STRANGER)
    facts = replace(facts, owners=(first, *facts.owners[1:]), authorities=(named(1, by=2), named(1, by=3)))
    assert missing(also_signed(also_signed(replace(facts, consents=()), STRANGER), 2)) == []


def test_who_has_written_authority_signs_for_those_owners_who_gave_it():
    facts = partners("1/2", "1/2", rule=WhoSigns.ALL)
    assert missing(replace(facts, authorities=(named(1, by=2),))) == []
    assert missing(replace(facts, authorities=(named(1, by=2, until=DAY - timedelta(1)),))) == ["Owner 2"]


def test_the_guardian_of_a_young_co_owner_signs_for_them():
    facts = partners("1/2", "1/2", rule=WhoSigns.ALL)
    young = replace(facts, owners=(facts.owners[0], replace(facts.owners[1], guardian=STRANGER)))
    assert missing(also_signed(young, STRANGER)) == []


def test_a_sole_owner_is_enough_under_every_rule():
    for rule in WhoSigns:
        assert missing(partners("1", rule=rule)) == []


def test_the_note_of_the_end_follows_the_consent_that_is_needed_longest():
    soon, later = DAY + timedelta(days=5), DAY + timedelta(days=200)
    both = also_signed(partners("1/2", "1/2", rule=WhoSigns.ALL), 2, until=soon)
    assert [str(note) for note in permission_to_work(both).notes] == ["The consent ends on Tue 17 Mar 2026."]
    anyone = replace(both, rules=replace(both.rules, who_signs=WhoSigns.ANY))
    assert permission_to_work(replace(anyone, consents=(anyone.consents[0], anyone.consents[1]))).notes == ()
    assert consent_until(also_signed(partners("1/2", "1/2", rule=WhoSigns.MAJORITY), 2, until=later)) == later


def test_a_consent_holds_through_its_last_day():
    assert codes(consents(ready(), until=DAY)) == set()
    assert codes(consents(ready(), since=DAY)) == set()
    assert codes(consents(ready(), withdrawn_on=DAY + timedelta(1))) == set()


def test_all_faults_of_the_latest_consent_are_told_at_once():
    facts = consents(ready(), until=DAY - timedelta(1), under_age=True, sign_again=True, signer=STRANGER)
    assert codes(facts) == {"consent_ends", "signer_under_age", "sign_again", "signer_may_not"}


def test_one_good_consent_is_enough_beside_older_ones_that_ended():
    facts = replace(ready(), consents=(paper(pk=7, until=date(2026, 2, 1), signed_on=date(2025, 2, 1)), paper()))
    assert codes(facts) == set()


def test_a_change_of_shares_between_the_same_persons_asks_for_nothing():
    assert codes(two_owners()) == set()


def test_a_co_owner_who_leaves_is_a_change_of_persons():
    assert codes(replace(two_owners(), owners=(Owner(OWNER, "Ottilie Brackwater"),))) == {"owner_changed"}


def test_a_co_owners_withdrawal_holds_whatever_the_other_signed():
    against = paper(pk=5, signer=CO_OWNER, owners_then=frozenset({OWNER, CO_OWNER}), withdrawn_on=date(2026, 3, 3))
    facts = two_owners()
    facts = replace(facts, consents=(*facts.consents, against))
    assert codes(facts) == {"co_owner_objects"}
    assert permission_to_work(facts).result == "hold"
    again = paper(pk=6, signer=CO_OWNER, owners_then=frozenset({OWNER, CO_OWNER}))
    assert codes(replace(facts, consents=(*facts.consents, again))) == set()


def test_a_guardian_signs_for_an_owner_who_is_too_young():
    young = replace(ready(), owners=(Owner(OWNER, "Tamsin Orrel", guardian=STRANGER),))
    assert codes(consents(young, signer=STRANGER)) == set()
    assert codes(consents(young, under_age=True, by_guardian=True)) == set()


def test_an_agent_signs_only_with_written_authority_then_and_on_the_day():
    signed = consents(ready(), signer=TRAINER)
    authority = paper(pk=9, agent=TRAINER)
    assert codes(signed) == {"signer_may_not"}
    assert codes(replace(signed, authorities=(authority,))) == set()
    for change in (
        {"agent": STRANGER},
        {"until": DAY - timedelta(1)},
        {"since": date(2026, 1, 6)},
        {"signer": STRANGER},
        {"under_age": True},
        {"sign_again": True},
        {"withdrawn_on": date(2026, 2, 1)},
    ):
        assert codes(replace(signed, authorities=(replace(authority, **change),))) == {"signer_may_not"}


@pytest.mark.parametrize(
    ("change", "missing"),
    [
        ({}, False),
        ({"until": DAY - timedelta(1)}, True),
        ({"until": DAY}, False),
        ({"since": DAY}, False),
        ({"since": DAY + timedelta(1)}, True),
        ({"withdrawn_on": DAY}, True),
        ({"signer": STRANGER}, True),
        ({"sign_again": True}, True),
        ({"under_age": True}, True),
        ({"under_age": True, "by_guardian": True}, False),
    ],
)
def test_a_release_counts_while_it_is_in_force_and_signed_by_somebody_who_may(change, missing):
    facts = replace(ready(), barn_asks_release=True, releases=(paper(**change),))
    assert codes(facts) == ({"no_release"} if missing else set())


def test_every_payer_accepts_the_terms_of_business():
    facts = replace(ready(), has_terms=True, payers=(Person(OWNER, "Ottilie"), Person(CO_OWNER, "Imani")))
    assert len(permission_to_work(facts).reasons) == 2
    one = replace(facts, terms=(paper(),))
    assert [reason.who for reason in permission_to_work(one).reasons] == ["Imani"]
    assert codes(replace(one, terms=(paper(), paper(signer=CO_OWNER)))) == set()
    assert codes(replace(one, terms=(paper(), paper(signer=CO_OWNER, sign_again=True)))) == {"no_terms"}
    assert codes(replace(one, terms=(paper(), paper(signer=CO_OWNER, until=date(2026, 1, 9))))) == {"no_terms"}


@pytest.mark.parametrize(
    ("trainer", "code"),
    [
        ({"so_far": "290", "adding": "10"}, set()),
        ({"so_far": "290", "adding": "10.01"}, {"over_cap"}),
        ({"so_far": None}, {"spending_unknown"}),
        ({"so_far": None, "cap": None}, set()),
        ({"so_far": "9000", "cap": None}, set()),
    ],
)
def test_a_trainer_orders_up_to_the_cap(trainer, code):
    facts = with_trainer(ready(), **trainer)
    assert codes(facts) == code
    assert permission_to_work(facts).result == ("ask" if code else "ready")


def test_an_owner_orders_without_a_cap():
    assert codes(replace(with_trainer(ready(), so_far="9000"), ordered_by=Person(OWNER, "Ottilie"))) == set()


# Kit and notes


def test_an_inspection_that_falls_due_on_the_day_is_in_time():
    change, _, _ = BREAKERS["inspection overdue"]
    facts = change(ready())
    assert codes(replace(facts, machine=replace(facts.machine, inspection_due=DAY))) == set()


@pytest.mark.parametrize(
    ("change", "code"),
    [
        (lambda f: replace(f, cautions=("Near hock (Dr. Ada Lindqvist)",)), "caution"),
        (lambda f: consents(f, until=DAY + timedelta(days=14)), "consent_ends_soon"),
        (lambda f: replace(f, isolated_at_barn=("Marigold Row",)), "isolation"),
        (lambda f: answered(f, "medicine", State.YES), "medicine"),
    ],
)
def test_a_note_is_shown_and_asks_for_nothing(change, code):
    permission = permission_to_work(change(ready()))
    assert permission.result == "ready"
    assert [note.code for note in permission.notes] == [code]


def test_a_consent_that_ends_in_fifteen_days_is_no_note_yet():
    assert permission_to_work(consents(ready(), until=DAY + timedelta(days=15))).notes == ()


def test_the_note_of_isolation_names_the_barn_and_the_horse():
    facts = replace(ready(), isolated_at_barn=("Marigold Row",))
    sentence = "Isolation at Copper Hasp Stables (Marigold Row): last of the day, with the cleaning list."
    assert str(permission_to_work(facts).notes[0]) == sentence


# Words


@pytest.mark.parametrize("name", HEALTH)
def test_a_health_sentence_says_what_is_recorded_judges_nothing_and_names_the_vet(name):
    sentence = permission_to_work(BREAKERS[name][0](ready())).reasons[0].sentence
    assert "This software does not judge illness." in sentence
    assert "ask the horse's vet" in sentence


@pytest.mark.parametrize("name", ["law not allowed", "law vet first", "law unknown"])
def test_a_law_sentence_says_what_was_recorded_when_and_whom_to_check_with(name):
    sentence = permission_to_work(BREAKERS[name][0](ready())).reasons[0].sentence
    assert sentence.startswith("Rules differ by place and change. You recorded “")
    assert "on Fri 2 Jan 2026 (source: Invented board letter)" in sentence
    assert "Check with your licensing board, insurer or lawyer before relying on it." in sentence


def test_the_facts_are_kept_as_plain_values():
    facts = with_trainer(referred(ready(), services=frozenset({"spot", "full"})))
    record = json.loads(json.dumps(as_record(facts)))
    assert record["on"] == "2026-03-12"
    assert record["referrals"][0]["services"] == ["full", "spot"]
    assert record["spending"]["so_far"] == "290"
    assert record["consents"][0]["owners_then"] == [OWNER]
    assert record["authorities"][0]["agent"] == TRAINER
