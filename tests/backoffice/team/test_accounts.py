import pytest
from django.urls import reverse

from backoffice.access.models import User
from backoffice.access.powers import Role
from backoffice.audit.queries import trail_of
from backoffice.refusal import Refused
from backoffice.team import actions
from tests.conftest import signed_in
from tests.factories.backoffice import UserFactory

PASSWORD = "a quiet mare in the rain"
TYPED = {
    "first_name": "Ada",
    "last_name": "Adair",
    "username": "ada",
    "role": "assistant",
    "phone": "555-0101",
    "password": PASSWORD,
    "password_again": PASSWORD,
}


def address(name: str, account: User | None = None) -> str:
    return reverse(f"backoffice:{name}", args=[account.pk] if account else [])


def change(account: User, by: User, now, **changes):
    facts = {
        "first_name": "Ada",
        "last_name": "",
        "email": "",
        "phone": "",
        "role": Role.ASSISTANT,
        "drives_rounds": False,
    }
    return actions.change_account(account=account, at=now, by=by, **{**facts, **changes})


@pytest.mark.parametrize("name", ["account-edit", "account-password", "account-close"])
def test_accounts_open_to_the_owner_manager_only(owner_manager, name):
    assert signed_in(owner_manager).get(address(name, owner_manager)).status_code == 200
    for role in (Role.PRACTITIONER, Role.ASSISTANT, Role.BOOKKEEPER):
        person = UserFactory(role=role)
        assert signed_in(person).get(address(name, person)).status_code == 403
        assert signed_in(person).post(address(name, owner_manager)).status_code == 403


@pytest.mark.parametrize("more", [0, 29])
def test_the_list_takes_the_same_queries_however_long(as_owner_manager, owner_manager, django_assert_num_queries, more):
    UserFactory.create_batch(more)
    with django_assert_num_queries(5):
        page = as_owner_manager.get(address("team")).content.decode()
    assert f'<a href="{address("account-edit", owner_manager)}">{owner_manager}<' in page


def test_an_account_is_added_and_can_sign_in(as_owner_manager, owner_manager, client):
    assert as_owner_manager.post(address("account-new"), TYPED).status_code == 302
    account = User.objects.get(username="ada")
    assert (account.role, account.is_superuser, account.is_staff) == (Role.ASSISTANT, False, False)
    assert client.login(username="ada", password=PASSWORD)
    (entry,) = trail_of(account)
    assert (entry.action, entry.by, entry.changes) == ("account added", owner_manager, {"role": "assistant"})


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("username", "", "Name to sign in with is missing."),
        ("username", "owner", "Somebody already signs in with this name."),
        ("username", "two words", "valid username"),
        ("username", "x" * 5000, "Write at most 150 characters"),
        ("role", "king", "Choose one from the list."),
        ("password", "short", "too short"),
        ("password_again", "different", "The two passwords differ."),
        ("phone", "1" * 400, "Write at most 40 characters"),
    ],
)
def test_each_wrong_value_gets_a_sentence_at_its_field(as_owner_manager, field, value, sentence):
    answer = as_owner_manager.post(address("account-new"), {**TYPED, field: value})
    assert answer.status_code == 422
    assert any(sentence in text for text in answer.context["form"].errors[field])
    assert "Adair" in answer.content.decode()
    assert not User.objects.filter(username="ada").exists()


def test_a_role_is_changed_with_a_trail(as_owner_manager, assistant, owner_manager):
    typed = {"first_name": "ليلى", "last_name": "<b>", "role": "bookkeeper", "phone": "", "drives_rounds": "on"}
    assert as_owner_manager.post(address("account-edit", assistant), typed).status_code == 302
    assistant.refresh_from_db()
    assert (assistant.role, assistant.first_name) == (Role.BOOKKEEPER, "ليلى")
    (entry,) = trail_of(assistant)
    assert entry.changes == {"role": ["assistant", "bookkeeper"]}
    assert "&lt;b&gt;" in as_owner_manager.get(address("team")).content.decode()


def test_the_only_owner_manager_keeps_the_role(as_owner_manager, owner_manager):
    UserFactory(role=Role.OWNER_MANAGER, is_active=False)
    typed = {"first_name": "June", "last_name": "Typed", "role": "assistant"}
    answer = as_owner_manager.post(address("account-edit", owner_manager), typed)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "This is the only owner-manager." in page
    assert "Typed" in page
    owner_manager.refresh_from_db()
    assert owner_manager.role == Role.OWNER_MANAGER


def test_with_a_second_one_the_role_may_go(owner_manager, now):
    second = UserFactory(role=Role.OWNER_MANAGER)
    assert change(owner_manager, second, now).role == Role.ASSISTANT


def test_a_closed_account_is_signed_out_and_cannot_come_back(as_owner_manager, as_assistant, assistant, owner_manager):
    assert "keeps their name" in as_owner_manager.get(address("account-close", assistant)).content.decode()
    assert as_owner_manager.post(address("account-close", assistant)).status_code == 302
    assert as_assistant.get("/sign-out/").status_code in {302, 405}
    answer = as_assistant.get(address("team"))
    assert answer.status_code == 302
    assert answer["Location"].startswith("/sign-in/")
    assert as_owner_manager.post(address("account-reopen", assistant)).status_code == 302
    assistant.refresh_from_db()
    assert assistant.is_active
    assert [entry.action for entry in trail_of(assistant)] == ["account reopened", "account closed"]


def test_closing_is_refused_for_the_last_owner_manager_for_oneself_and_twice(owner_manager, assistant, now):
    with pytest.raises(Refused, match="only owner-manager"):
        actions.close_account(account=owner_manager, at=now, by=owner_manager)
    second = UserFactory(role=Role.OWNER_MANAGER)
    with pytest.raises(Refused, match="signed in with"):
        actions.close_account(account=second, at=now, by=second)
    actions.close_account(account=assistant, at=now, by=second)
    with pytest.raises(Refused, match="already closed"):
        actions.close_account(account=assistant, at=now, by=second)


def test_reopening_an_open_account_is_refused(owner_manager, assistant, now):
    with pytest.raises(Refused, match="already open"):
        actions.reopen_account(account=assistant, at=now, by=owner_manager)


def test_a_new_password_signs_the_old_one_out(as_owner_manager, as_assistant, assistant, client):
    typed = {"password": PASSWORD, "password_again": PASSWORD}
    assert as_owner_manager.post(address("account-password", assistant), typed).status_code == 302
    assert as_assistant.get(address("team")).status_code == 302, "sent to sign in, not refused"
    assert client.login(username="assistant", password=PASSWORD)
    (entry,) = trail_of(assistant)
    assert entry.changes == {}


def test_setting_one_s_own_password_keeps_one_signed_in(as_owner_manager, owner_manager):
    typed = {"password": PASSWORD, "password_again": PASSWORD}
    as_owner_manager.post(address("account-password", owner_manager), typed)
    assert as_owner_manager.get(address("team")).status_code == 200


def test_a_weak_new_password_is_refused_with_its_rule(as_owner_manager, assistant):
    typed = {"password": "passwordpassword", "password_again": "passwordpassword"}
    answer = as_owner_manager.post(address("account-password", assistant), typed)
    assert answer.status_code in {302, 422}
    answer = as_owner_manager.post(address("account-password", assistant), {"password": "x", "password_again": "x"})
    assert answer.status_code == 422
    assert "too short" in answer.content.decode()
