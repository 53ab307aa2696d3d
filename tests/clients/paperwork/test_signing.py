import io
import subprocess
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pypdf
import pytest

from backoffice.audit.queries import breaks_in_chain, trail_of
from backoffice.documents.queries import bytes_of
from backoffice.links.models import PrivateLink
from backoffice.refusal import Refused
from clients.animals.models import Role
from clients.paperwork.actions import publish_wording_version
from clients.paperwork.models import Form, Signature, Wording
from clients.paperwork.queries import permission_for_each, work_of
from clients.paperwork.signers import text_of
from clients.paperwork.signing import ask_to_sign, digest_of, link_to_sign, sign_form, withdraw_form
from clients.people.models import Person
from tests.factories.clients import (
    AnimalFactory,
    BarnFactory,
    FormFactory,
    OwnershipFactory,
    PersonFactory,
    RoleFactory,
    ServiceFactory,
    WordingVersionFactory,
)
from tests.factories.paperwork import DRAWN, ready_animal, version_of

pytestmark = pytest.mark.django_db
TODAY = date(2026, 3, 2)


@pytest.fixture
def form(business):
    """A consent to sign by the one owner of a horse."""
    animal = AnimalFactory(name="Biscuit")
    owner = OwnershipFactory(animal=animal, person__name="Ottilie Brackwater").person
    return FormFactory(animal=animal, signer=owner)


def sign(form, at, **changes) -> Form:
    given = {"name_typed": form.signer.name, "capacity": "owner", "strokes": DRAWN, "device": "Firefox on Android"}
    return sign_form(form=form, at=at, **{**given, **changes})


def test_signing_keeps_text_name_role_strokes_moment_device_and_address(form, now, owner_manager):
    signed = sign(form, now, address="192.0.2.7", witnessed_by=owner_manager)
    signature = signed.signature
    assert (signed.state, signed.valid_from, signed.valid_until) == ("signed", TODAY, date(2027, 3, 1))
    assert signature.text == "I agree to sessions for Biscuit."
    assert signature.text_sha256 == digest_of(signature.text)
    assert (signature.name_typed, signature.capacity) == ("Ottilie Brackwater", "owner")
    assert Signature.objects.get().strokes == DRAWN
    assert (signature.signed_at, signature.device, signature.address) == (now, "Firefox on Android", "192.0.2.7")
    assert signature.witnessed_by == owner_manager


def test_signing_makes_a_consent_that_permission_to_work_counts(form, now):
    animal = ready_animal()
    animal.forms.all().delete()
    unsigned = FormFactory(animal=animal, signer=animal.ownerships.get().person)
    service = ServiceFactory()
    assert permission_for_each([(animal, work_of(service))], on=TODAY)[0].is_hold
    sign(unsigned, now)
    assert permission_for_each([(animal, work_of(service))], on=TODAY)[0].is_ready


def test_signing_is_in_the_trail_without_personal_text(form, now):
    signed = sign(form, now)
    entry = trail_of(signed).get()
    assert entry.action == "form signed"
    assert entry.changes["sha256"] == signed.document.sha256
    assert "Ottilie" not in str(entry.changes)
    assert list(breaks_in_chain()) == []


@pytest.mark.pdf
@pytest.mark.drawn
def test_the_sealed_paper_says_who_signed_what_when_and_how_and_what_the_seal_shows(form, now, tmp_path):
    content = bytes_of(sign(form, now, address="192.0.2.7").document)
    text = " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(content)).pages).split())
    for words in (
        "I agree to sessions for Biscuit.",
        "Ottilie Brackwater",
        "2 Mar 2026, 10:00:00 MST",
        "Firefox on Android",
        "192.0.2.7",
        "it does not prove who signed",
        "not a qualified signature",
    ):
        assert words in text
    file = tmp_path / "form.pdf"
    file.write_bytes(content)
    said = subprocess.run(["pdfsig", "-nocert", file], capture_output=True, text=True, check=False).stdout
    assert "Signature Validation: Signature is Valid." in said
    assert "Total document signed" in said
    at = content.index(b"/Producer") if b"/Producer" in content else len(content) // 3
    file.write_bytes(content[:at] + bytes([content[at] ^ 1]) + content[at + 1 :])
    said = subprocess.run(["pdfsig", "-nocert", file], capture_output=True, text=True, check=False).stdout
    assert "Signature is Valid" not in said


# Refusals


@pytest.mark.parametrize(
    "strokes", [[], [[]], [[[5, 5]]], [[[5, 5], [6, 6]]], [[[0, 0], [2000, 0]]], ["x"], [[["a", 1]]]]
)
def test_a_form_without_a_drawn_signature_is_refused(form, now, strokes):
    with pytest.raises(Refused, match="signature"):
        sign(form, now, strokes=strokes)
    form.refresh_from_db()
    assert form.state == "to_sign"


def test_a_name_that_differs_from_the_signer_is_refused(form, now):
    for name in ("Imani Velloran", "Ottilie", ""):
        with pytest.raises(Refused, match="name"):
            sign(form, now, name_typed=name)


def test_case_accents_and_spaces_do_not_make_another_name(form, now):
    form.signer.name = "Zoë Brackwater"
    form.signer.save()
    assert sign(form, now, name_typed="  zoe   BRACKWATER ").state == "signed"


@pytest.mark.parametrize("name", ["ليلى حسن", "王小明", "<script>alert(1)</script>"])
def test_a_name_in_any_script_signs(form, now, name):
    form.signer.name = name
    form.signer.save()
    assert sign(form, now, name_typed=name).signature.name_typed == name


def test_somebody_too_young_is_refused_by_mark_or_by_birthday(form, now):
    for change in ({"under_age": True}, {"under_age": False, "born_on": date(2008, 3, 3)}):
        Person.objects.filter(pk=form.signer_id).update(**change)
        with pytest.raises(Refused, match="too young to sign"):
            sign(form, now)
    Person.objects.filter(pk=form.signer_id).update(born_on=date(2008, 3, 2))
    assert sign(form, now).state == "signed"


def test_a_guardian_signs_as_such_with_the_guardians_own_name(form, now):
    guardian = PersonFactory(name="Maud Orrel")
    Person.objects.filter(pk=form.signer_id).update(under_age=True, guardian=guardian)
    with pytest.raises(Refused, match="“Parent or guardian” only"):
        sign(form, now)
    with pytest.raises(Refused, match="Maud Orrel"):
        sign(form, now, capacity="guardian")
    assert sign(form, now, capacity="guardian", name_typed="Maud Orrel").signature.capacity == "guardian"


def test_a_stranger_and_an_agent_without_authority_are_refused(form, now):
    agent = RoleFactory(animal=form.animal, kind=Role.Kind.AGENT).person
    for person in (PersonFactory(), agent):
        other = FormFactory(animal=form.animal, signer=person)
        with pytest.raises(Refused, match="no written authority in force"):
            sign(other, now, capacity="agent")


def test_an_agent_signs_with_a_written_authority_in_force(form, now):
    agent = RoleFactory(animal=form.animal, kind=Role.Kind.AGENT).person
    authority = version_of(Wording.Kind.AUTHORITY)
    FormFactory(animal=form.animal, signer=form.signer, agent=agent, wording_version=authority, signed=True)
    assert sign(FormFactory(animal=form.animal, signer=agent), now, capacity="agent").state == "signed"


def test_a_co_owner_signs_as_co_owner(form, now):
    OwnershipFactory(animal=form.animal)
    with pytest.raises(Refused, match="“Co-owner” only"):
        sign(form, now)
    assert sign(form, now, capacity="co_owner").state == "signed"


def test_for_an_organization_anybody_signs_by_name(form, now):
    Person.objects.filter(pk=form.signer_id).update(kind=Person.Kind.ORGANIZATION)
    with pytest.raises(Refused, match="name is missing"):
        sign(form, now, capacity="organization", name_typed=" ")
    assert sign(form, now, capacity="organization", name_typed="Perpetua Lisle").state == "signed"


def test_signing_twice_is_refused(form, now):
    sign(form, now)
    with pytest.raises(Refused, match="already signed"):
        sign(form, now)
    assert Signature.objects.count() == 1


def test_a_form_withdrawn_between_reading_and_signing_is_refused(form, now, owner_manager):
    withdraw_form(form=form, at=now, by=owner_manager)
    with pytest.raises(Refused, match="was withdrawn"):
        sign(form, now)


def test_a_text_that_changed_while_it_was_read_is_refused(form, now, owner_manager, business):
    read = digest_of(text_of(form, on=TODAY, business=business))
    wording = form.wording_version.wording
    publish_wording_version(
        wording=wording, text="New: {horse}.", must_sign_again=False, valid_months=12, at=now, by=owner_manager
    )
    with pytest.raises(Refused, match="changed while it was being read"):
        sign(form, now, read_sha256=read)
    form.refresh_from_db()
    assert sign(form, now).signature.text == "New: Biscuit."


def test_a_form_of_an_older_version_than_the_newest_is_refused(form, now):
    WordingVersionFactory(wording=form.wording_version.wording, number=2)
    with pytest.raises(Refused, match="newer version"):
        sign(form, now)


def test_an_address_that_is_none_is_no_reason_to_lose_a_signature(form, now):
    assert sign(form, now, address=None, device="x" * 900).signature.device == "x" * 300


# Asking and withdrawing


def test_asking_makes_one_form_and_one_entry(form, now, owner_manager):
    asked = ask_to_sign(version=version_of("photos"), signer=form.signer, animal=form.animal, at=now, by=owner_manager)
    assert (asked.state, asked.made_at) == ("to_sign", now)
    assert trail_of(asked).get().action == "form asked for"


def test_asking_is_refused_when_something_is_missing_or_in_the_way(form, now, owner_manager):
    def ask(version, match, **parts):
        with pytest.raises(Refused, match=match):
            ask_to_sign(version=version, signer=form.signer, at=now, by=owner_manager, **parts)

    ask(form.wording_version, "Name the horse")
    ask(form.wording_version, "already has this form to sign", animal=form.animal)
    ask(version_of("release"), "Name the barn", animal=form.animal)
    ask(version_of("authority"), "Name who may act", animal=form.animal)
    ask(form.wording_version, "died on", animal=AnimalFactory(died_on=TODAY))
    old = form.wording_version
    WordingVersionFactory(wording=old.wording, number=2)
    ask(old, "newer wording", animal=AnimalFactory())


def test_an_authority_names_its_agent_and_cap_in_the_text(form, now, owner_manager, business):
    version = version_of("authority", text="{agent} may order for {horse} up to {cap} a month at {barn}. {signer}")
    asked = ask_to_sign(
        version=version,
        signer=form.signer,
        animal=form.animal,
        barn=BarnFactory(name="Quillback"),
        agent=PersonFactory(name="Corin Ashlund"),
        cap=Decimal(300),
        at=now,
        by=owner_manager,
    )
    text = "Corin Ashlund may order for Biscuit up to USD 300.00 a month at Quillback. Ottilie Brackwater"
    assert text_of(asked, on=TODAY, business=business) == text


def test_an_authority_over_all_horses_of_an_owner_names_them(form, now, owner_manager, business):
    for name in ("Rook", "Duke"):
        OwnershipFactory(animal=AnimalFactory(name=name), person=form.signer)
    version = version_of("authority", text="I am an owner of {horse}.")
    agent = PersonFactory(name="Corin Ashlund")
    asked = ask_to_sign(version=version, signer=form.signer, agent=agent, at=now, by=owner_manager)
    assert text_of(asked, on=TODAY, business=business) == "I am an owner of Biscuit, Duke and Rook."


def test_a_new_link_closes_the_one_before(form, now, owner_manager):
    first, second = (link_to_sign(form=form, at=now, by=owner_manager) for _ in range(2))
    assert first != second
    assert [link.is_open(now) for link in PrivateLink.objects.order_by("pk")] == [False, True]


def test_a_signed_form_gets_no_new_link(form, now, owner_manager):
    sign(form, now)
    with pytest.raises(Refused, match="already signed"):
        link_to_sign(form=form, at=now, by=owner_manager)


def test_withdrawing_ends_the_consent_that_day_closes_links_and_keeps_the_paper(form, now, owner_manager):
    link_to_sign(form=form, at=now, by=owner_manager)
    sign(form, now)
    later = now + timedelta(days=10)
    gone = withdraw_form(form=form, at=later, by=owner_manager)
    assert (gone.state, gone.withdrawn_on) == ("withdrawn", date(2026, 3, 12))
    assert gone.is_in_force(date(2026, 3, 11))
    assert not gone.is_in_force(date(2026, 3, 12))
    assert gone.document is not None
    assert not PrivateLink.objects.get().is_open(later)
    with pytest.raises(Refused, match="already withdrawn"):
        withdraw_form(form=form, at=later, by=owner_manager)


def test_a_day_begins_and_ends_by_the_clock_of_the_business(form):
    late = datetime(2026, 3, 3, 6, 30, tzinfo=UTC)  # 23:30 on 2 March in Denver
    assert sign(form, late).valid_from == TODAY
