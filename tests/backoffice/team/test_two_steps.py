"""The second step of signing in, from set-up to the day on which the phone is lost."""

import re
from datetime import timedelta

import pyotp
import pytest
from django.test import Client
from django.urls import reverse

from backoffice.access.models import User
from backoffice.audit.queries import trail_of
from backoffice.refusal import Refused
from backoffice.team import codes, two_steps
from backoffice.team.models import CodeApp, Passkey, RecoveryCode
from backoffice.team.passkeys import Site
from tests.backoffice.team.authenticator import PRESENT, Authenticator
from tests.conftest import signed_in

PASSWORD = "a quiet mare in the rain"
pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("business")]


@pytest.fixture(autouse=True)
def _at(time_machine, now, settings):
    time_machine.move_to(now, tick=False)
    settings.AXES_ENABLED = True


@pytest.fixture
def account(owner_manager) -> User:
    owner_manager.set_password(PASSWORD)
    owner_manager.save()
    return owner_manager


@pytest.fixture
def as_account(account) -> Client:
    """Signed in just now, by https."""
    client = Client(headers={"user-agent": "Mozilla/5.0 (X11; Linux x86_64) Firefox/140.0"})
    client.post(reverse("backoffice:sign-in"), {"username": account.username, "password": PASSWORD})
    return client


@pytest.fixture
def app(account, now) -> pyotp.TOTP:
    """An app that shows this account's codes, its first one used."""
    totp = pyotp.TOTP(two_steps.begin_code_app(account=account, at=now))
    two_steps.confirm_code_app(account=account, code=totp.at(now), at=now)
    return totp


def password_step(client: Client, account: User, **more):
    return client.post(reverse("backoffice:sign-in"), {"username": account.username, "password": PASSWORD, **more})


def code_step(client: Client, code: str):
    return client.post(reverse("backoffice:sign-in-second"), {"code": code})


def is_in(client: Client) -> bool:
    return client.get(reverse("backoffice:own-account")).status_code == 200


class TestCodes:
    def test_a_code_counts_once_and_half_a_minute_either_way(self, account, app, now):
        def right(code, at):
            return two_steps.use_code(account=account, code=code, at=at)

        later = now + timedelta(minutes=2)
        assert not right(app.at(now), now)  # it was the first one
        assert right(app.at(later - timedelta(seconds=30)), later)
        assert right(f" {app.at(later)[:3]} {app.at(later)[3:]} ", later)
        assert not right(app.at(later), later)
        assert not right(app.at(later - timedelta(seconds=30)), later)
        assert not right(app.at(later + timedelta(seconds=90)), later)
        assert not right("", later)

    def test_the_secret_is_sealed_and_recovery_codes_are_digests(self, account, app):
        assert app.secret.encode() not in bytes(CodeApp.objects.get().sealed_secret)
        made = codes.new_recovery_codes()
        assert len({*made}) == 10
        assert codes.digest_of(made[0].upper().replace("-", " ")) == codes.digest_of(made[0])

    def test_a_recovery_code_opens_once_and_says_so_in_the_trail(self, account, app, now):
        (first, *_) = two_steps.renew_recovery_codes(account=account, at=now)
        assert two_steps.use_recovery_code(account=account, code=first, at=now)
        assert not two_steps.use_recovery_code(account=account, code=first, at=now)
        assert trail_of(account).filter(action="recovery code used").get().changes == {"left": 9}

    def test_the_last_factor_takes_the_recovery_codes_with_it(self, account, app, now):
        assert RecoveryCode.objects.count() == 10
        two_steps.drop_code_app(account=account, at=now)
        assert not RecoveryCode.objects.exists()
        with pytest.raises(Refused, match="set up one of them first"):
            two_steps.renew_recovery_codes(account=account, at=now)

    def test_a_second_app_and_a_wrong_first_code_are_refused(self, account, now):
        two_steps.begin_code_app(account=account, at=now)
        with pytest.raises(Refused, match="not right"):
            two_steps.confirm_code_app(account=account, code="000000", at=now)
        assert not two_steps.has_second_step(account)
        totp = pyotp.TOTP(two_steps.begin_code_app(account=account, at=now))
        two_steps.confirm_code_app(account=account, code=totp.at(now), at=now)
        with pytest.raises(Refused, match="already"):
            two_steps.begin_code_app(account=account, at=now)


class TestSigningIn:
    def test_the_password_alone_opens_nothing(self, account, app, now, client, time_machine):
        assert password_step(client, account, next="/people/").url == reverse("backoffice:sign-in-second")
        assert not is_in(client)
        time_machine.shift(60)
        answer = code_step(client, app.at(now + timedelta(seconds=60)))
        assert answer.url == "/people/"
        assert is_in(client)

    def test_a_recovery_code_stands_in(self, account, app, now, client):
        (code, *_) = two_steps.renew_recovery_codes(account=account, at=now)
        password_step(client, account)
        assert code_step(client, code).status_code == 302
        assert is_in(client)

    def test_half_way_ends_after_five_minutes(self, account, app, client, time_machine):
        password_step(client, account)
        time_machine.shift(301)
        assert code_step(client, "123456").url == reverse("backoffice:sign-in")

    def test_five_wrong_codes_close_the_door(self, account, app, client):
        password_step(client, account)
        answers = [code_step(client, "000000").status_code for _ in range(6)]
        assert answers[:4] == [422] * 4
        assert answers[5] == 429
        assert password_step(client, account).status_code == 429

    def test_a_stranger_finds_no_half_way(self, client):
        assert client.get(reverse("backoffice:sign-in-second")).url == reverse("backoffice:sign-in")

    def test_a_way_on_elsewhere_is_not_followed(self, account, client):
        assert password_step(client, account, next="https://elsewhere.example/").url == "/"


class TestPasskeys:
    @pytest.fixture
    def device(self, as_account) -> Authenticator:
        """A passkey made through the pages."""
        device = Authenticator()
        question = as_account.post(reverse("backoffice:own-passkey-question"), secure=True).json()
        assert question["authenticatorSelection"]["userVerification"] == "required"
        page = as_account.post(
            reverse("backoffice:own-passkey-new"), {"name": "My phone", "answer": device.make(question)}, secure=True
        )
        assert "shown now and never again" in page.content.decode()
        return device

    def question(self, client):
        return client.post(reverse("backoffice:passkey-question"), secure=True).json()

    def answer(self, client, said, **more):
        return client.post(reverse("backoffice:passkey-answer"), {"answer": said, **more}, secure=True)

    def test_it_signs_in_without_a_password(self, device, account, client):
        answer = self.answer(client, device.sign(self.question(client)), next="/people/")
        assert answer.url == "/people/"
        assert is_in(client)
        assert Passkey.objects.get().sign_count == 1

    @pytest.mark.parametrize(
        "changes",
        [
            {"client": {"origin": "https://elsewhere.example"}},
            {"client": {"challenge": "bm90IGFza2Vk"}},
            {"client": {"type": "webauthn.create"}},
            {"flags": PRESENT},
        ],
        ids=["another origin", "another challenge", "another kind", "the person not checked"],
    )
    def test_an_answer_that_does_not_stand_opens_nothing(self, changes, device, client):
        answer = self.answer(client, device.sign(self.question(client), **changes))
        assert answer.status_code == 422
        assert "does not open an account" in answer.content.decode()

    def test_an_answer_counts_once(self, device, client):
        said = device.sign(self.question(client))
        self.answer(client, said)
        other = Client()
        self.question(other)
        assert self.answer(other, said).status_code == 422

    @pytest.mark.parametrize("said", ["", "no json", "{}", "x" * 30_000, '{"id": 1, "rawId": []}'])
    def test_nonsense_is_answered(self, said, client):
        self.question(client)
        assert self.answer(client, said).status_code == 422

    def test_a_closed_account_and_another_key_stay_out(self, device, account, client):
        stranger = Authenticator()
        stranger.key_id = device.key_id
        assert self.answer(client, stranger.sign(self.question(client))).status_code == 422
        User.objects.update(is_active=False)
        assert self.answer(client, device.sign(self.question(client))).status_code == 422

    def test_it_counts_as_a_second_step_and_is_taken_away(self, device, account, as_account, client):
        assert password_step(client, account).url == reverse("backoffice:sign-in-second")
        assert (
            "Sign in with a passkey" in client.get(reverse("backoffice:sign-in-second"), secure=True).content.decode()
        )
        as_account.post(reverse("backoffice:own-passkey-drop", args=[Passkey.objects.get().pk]))
        assert not two_steps.has_second_step(account)

    def test_the_key_of_somebody_else_is_not_there(self, device, assistant):
        drop = reverse("backoffice:own-passkey-drop", args=[Passkey.objects.get().pk])
        other = signed_in(assistant)
        session = other.session
        session["sure_at"] = 9e9
        session.save()
        assert other.post(drop).status_code == 404

    def test_a_bad_answer_makes_no_key(self, as_account):
        page = reverse("backoffice:own-passkey-new")
        as_account.post(reverse("backoffice:own-passkey-question"), secure=True)
        answer = as_account.post(page, {"name": "x", "answer": "{}"}, secure=True)
        assert answer.status_code == 422
        assert not Passkey.objects.exists()

    def test_a_bare_number_has_no_passkeys(self):
        assert not Site("127.0.0.1", "http://127.0.0.1:8000").can_have_passkeys
        assert not Site("barn.example", "http://barn.example").can_have_passkeys
        assert Site("localhost", "http://localhost:8000").can_have_passkeys
        assert Site("barn.example", "https://barn.example").can_have_passkeys


class TestOwnAccount:
    def test_an_app_is_set_up_through_the_pages(self, as_account, account, now):
        page = as_account.get(reverse("backoffice:own-codes")).content.decode()
        secret = re.search(r"<code>([A-Z2-7 ]+)</code>", page)[1].replace(" ", "")
        wrong = as_account.post(reverse("backoffice:own-codes"), {"code": "000000"})
        assert secret in wrong.content.decode().replace(" ", "")
        done = as_account.post(reverse("backoffice:own-codes"), {"code": pyotp.TOTP(secret).at(now)})
        assert len(re.findall(r"<li><code>", done.content.decode())) == 10
        assert done["Cache-Control"] == "no-store"
        assert two_steps.has_code_app(account)

    def test_after_a_while_the_password_is_asked_once_more(self, as_account, time_machine):
        time_machine.shift(901)
        sent = as_account.get(reverse("backoffice:own-password"))
        assert sent.url.startswith(reverse("backoffice:own-sure"))
        assert as_account.post(sent.url, {"password": "wrong"}).status_code == 422
        assert as_account.post(sent.url, {"password": PASSWORD}).url == reverse("backoffice:own-password")
        assert as_account.get(reverse("backoffice:own-password")).status_code == 200

    def test_the_password_is_changed_and_other_places_are_signed_out(self, as_account, account, client):
        client.force_login(account)
        said = {"password": "an old gelding at noon", "password_again": "an old gelding at noon"}
        assert as_account.post(reverse("backoffice:own-password"), said).status_code == 302
        assert is_in(as_account)
        assert not is_in(client)

    def test_an_assistant_has_the_page_too(self, as_assistant):
        assert "not set up" in as_assistant.get(reverse("backoffice:own-account")).content.decode()


class TestSignedIn:
    def test_places_are_listed_and_ended(self, as_account, account, client):
        client.force_login(account)
        page = as_account.get(reverse("backoffice:own-account"))
        text, places = page.content.decode(), list(page.context["places_signed_in"])
        assert "Firefox on Linux, here" in text
        assert len(places) == 2
        other = next(place for place in places if place.session_key == client.session.session_key)
        as_account.post(reverse("backoffice:own-session-end", args=[other.pk]))
        assert not is_in(client)
        assert is_in(as_account)

    def test_everywhere_else_at_once(self, as_account, account, client):
        client.force_login(account)
        as_account.post(reverse("backoffice:own-sessions-end"))
        assert (is_in(as_account), is_in(client)) == (True, False)

    def test_signing_out_takes_the_place_off_the_list(self, as_account, account, client):
        client.force_login(account)
        client.post(reverse("backoffice:sign-out"))
        assert len(as_account.get(reverse("backoffice:own-account")).context["places_signed_in"]) == 1

    def test_seen_is_noted_every_ten_minutes_at_most(self, as_account, account, time_machine, now):
        time_machine.shift(300)
        is_in(as_account)
        place = as_account.get(reverse("backoffice:own-account")).context["places_signed_in"][0]
        assert place.seen_at == now
        time_machine.shift(301)
        is_in(as_account)
        place.refresh_from_db()
        assert place.seen_at == now + timedelta(seconds=601)

    def test_nobody_ends_the_session_of_somebody_else(self, as_account, account, as_assistant):
        place = as_account.get(reverse("backoffice:own-account")).context["places_signed_in"][0]
        assert as_assistant.post(reverse("backoffice:own-session-end", args=[place.pk])).status_code == 404


class TestTheOwnerManagerHelps:
    def test_a_lost_phone(self, assistant, as_owner_manager, now, client):
        totp = pyotp.TOTP(two_steps.begin_code_app(account=assistant, at=now))
        two_steps.confirm_code_app(account=assistant, code=totp.at(now), at=now)
        client.force_login(assistant)
        page = as_owner_manager.get(reverse("backoffice:account-edit", args=[assistant.pk])).content.decode()
        assert "A second step is set up." in page
        as_owner_manager.post(reverse("backoffice:account-steps", args=[assistant.pk]))
        assert not two_steps.has_second_step(assistant)
        as_owner_manager.post(reverse("backoffice:account-out", args=[assistant.pk]))
        assert not is_in(client)
        assert {row.action for row in trail_of(assistant)} >= {"second step taken away", "signed out from afar"}

    def test_nobody_else_may(self, as_bookkeeper, assistant):
        for name in ("account-steps", "account-out"):
            assert as_bookkeeper.post(reverse(f"backoffice:{name}", args=[assistant.pk])).status_code == 403

    def test_a_business_that_asks_for_it_leads_everybody_there(self, business, as_assistant, assistant, now):
        business.asks_second_step = True
        business.save()
        assert as_assistant.get("/people/").url == reverse("backoffice:own-account")
        assert is_in(as_assistant)
        session = as_assistant.session
        session["two_steps"] = True
        session.save()
        assert as_assistant.get("/people/").status_code == 200

    def test_the_table_of_powers_is_a_page(self, as_owner_manager, as_assistant):
        page = as_owner_manager.get(reverse("backoffice:powers")).content.decode()
        assert "Go on where permission says ask, with a reason" in page
        assert as_assistant.get(reverse("backoffice:powers")).status_code == 403
