"""Which roles sign a wording, where it is for, and the statutory warning that the practitioner pastes."""

from datetime import date

import pytest

from backoffice.refusal import Refused
from clients.paperwork.actions import add_wording, publish_wording_version
from clients.paperwork.models import Form, Wording, WordingVersion
from clients.paperwork.queries import newest_versions
from clients.paperwork.signers import capacities_of, text_of
from clients.paperwork.signing import ask_to_sign, sign_form
from clients.paperwork.starters import STARTERS
from tests.factories.clients import FormFactory, OwnershipFactory
from tests.factories.paperwork import DRAWN, ready_animal

TERMS = {"kind": "consent", "title": "Ours", "text": "Yes, {horse}.", "valid_months": 12}
WARNING = {"warning": "WARNING {as it stands}", "warning_source": "State code, page 3", "warning_on": date(2026, 1, 5)}


def test_every_kind_has_a_starting_text_and_none_says_that_it_protects():
    assert {starter.kind for starter in STARTERS} == set(Wording.Kind.values)
    for starter in STARTERS:
        words = starter.text.casefold()
        for claim in ("protect", "not liable", "no liability", "hold harmless", "waive", "indemni", "warning:"):
            assert claim not in words


def test_a_wording_names_who_may_sign_it(business, now, owner_manager):
    horse = ready_animal()
    version = add_wording(**TERMS, signed_by=["organization"], at=now, by=owner_manager)
    owner = horse.ownerships.get().person
    form = ask_to_sign(version=version, signer=owner, animal=horse, at=now, by=owner_manager)
    assert capacities_of(form, on=now.date(), business=business) == []
    with pytest.raises(Refused, match="signed by: For the organization"):
        sign_form(form=form, name_typed=owner.name, capacity="owner", strokes=DRAWN, at=now)


def test_a_wording_of_another_place_is_not_asked_for(business, now, owner_manager):
    share = OwnershipFactory()
    version = add_wording(**TERMS, place="Wyoming", at=now, by=owner_manager)
    with pytest.raises(Refused, match="for Wyoming; your place is Colorado"):
        ask_to_sign(version=version, signer=share.person, animal=share.animal, at=now, by=owner_manager)
    assert not Form.objects.exists()


def test_a_warning_is_printed_as_it_was_pasted_with_its_source_and_date(business, now, owner_manager):
    version = add_wording(**TERMS, **WARNING, at=now, by=owner_manager)
    text = text_of(FormFactory(wording_version=version, animal__name="Biscuit"), on=now.date(), business=business)
    assert text == "Yes, Biscuit.\n\nWARNING {as it stands}\n\n(Pasted from State code, page 3, 2026-01-05.)"


@pytest.mark.parametrize("change", [{"warning_source": ""}, {"warning_on": None}, {"warning_on": date(2026, 4, 1)}])
def test_a_warning_without_source_or_date_is_refused(business, now, owner_manager, change):
    with pytest.raises(Refused, match="source"):
        add_wording(**TERMS, **{**WARNING, **change}, at=now, by=owner_manager)


def test_the_same_text_with_other_terms_is_a_new_version(business, now, owner_manager):
    version = add_wording(**TERMS, at=now, by=owner_manager)
    again = {"wording": version.wording, "text": version.text, "must_sign_again": False, "at": now, "by": owner_manager}
    with pytest.raises(Refused, match="the same"):
        publish_wording_version(**again, valid_months=12)
    assert publish_wording_version(**again, valid_months=12, place="Colorado").number == 2


def test_the_request_to_a_vet_is_no_form_to_sign(business, now, owner_manager):
    add_wording(**{**TERMS, "kind": "vet"}, at=now, by=owner_manager)
    assert newest_versions() == []


def test_the_editor_takes_the_terms_shows_them_and_asks_for_the_source(as_owner_manager, business):
    data = {**TERMS, "signed_by": ["owner", "guardian"], "place": "Colorado", "warning": "WARNING"}
    answer = as_owner_manager.post("/settings/wordings/new/", data)
    assert answer.status_code == 422
    assert "pasted with its source and its date" in answer.content.decode()
    data |= {"warning_source": "State code", "warning_on": "2026-01-05"}
    assert "State code" in as_owner_manager.post("/settings/wordings/preview/", data).content.decode()
    page = as_owner_manager.post("/settings/wordings/new/", data, follow=True).content.decode()
    assert "signed by: owner, parent or guardian" in page
    assert "only for Colorado" in page
    version = WordingVersion.objects.get()
    assert (version.signed_by, version.warning_on) == (["owner", "guardian"], date(2026, 1, 5))
    page = as_owner_manager.get(f"/settings/wordings/{version.wording_id}/versions/new/").content.decode()
    assert page.count("checked") == 2
