"""A code app and a passkey, set up and used in a real browser; the device is the browser's own virtual one."""

from collections.abc import Callable

import pyotp
import pytest

from backoffice.access.models import User
from tests.journeys.conftest import PASSWORD
from tests.journeys.walk import Walk

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
DEVICE = {
    "protocol": "ctap2",
    "transport": "internal",
    "hasResidentKey": True,
    "hasUserVerification": True,
    "isUserVerified": True,
    "automaticPresenceSimulation": True,
}


def with_device(walk: Walk) -> None:
    """A device that holds passkeys and finds that it is the right person each time."""
    session = walk.page.context.new_cdp_session(walk.page)
    session.send("WebAuthn.enable")
    session.send("WebAuthn.addVirtualAuthenticator", {"options": DEVICE})


def password_step(walk: Walk) -> None:
    walk.page.context.clear_cookies()
    walk.open("/sign-in/")
    walk.write(username="holt", password=PASSWORD)
    walk.press("Sign in")


@pytest.mark.parametrize("size", ["phone"], indirect=True)
def test_an_app_then_a_passkey_guard_the_account(new_walk: Callable[[], Walk], practice: User):
    walk = new_walk()
    with_device(walk)
    password_step(walk)
    walk.open("/account/")
    walk.look("95-your-account")
    walk.press("Set up an app")
    walk.look("95-code-app")
    secret = walk.page.locator("main code").inner_text().replace(" ", "")
    walk.write(code=pyotp.TOTP(secret).now())
    walk.press("The app shows codes")
    walk.look("95-recovery-codes")
    codes = walk.page.locator(".recovery code").all_inner_texts()
    walk.press("I keep them")

    password_step(walk)
    walk.look("95-second-step")
    walk.write(code=codes[0])
    walk.press("Go on")
    walk.open("/account/")
    walk.says("9 left, each for one time")
    walk.press("Make a passkey")
    walk.look("95-make-a-passkey")
    walk.write(name="My laptop")
    walk.press("Make a passkey")
    walk.says("Passkey “My laptop”")

    walk.page.context.clear_cookies()
    walk.open("/sign-in/")
    walk.look("95-sign-in-with-a-passkey")
    walk.press("Sign in with a passkey")
    walk.open("/account/")
    walk.says("Passkey “My laptop”", "last used")
    walk.look("95-account-with-both")
    walk.open("/settings/trail/")
    walk.says("Passkey added", "Recovery code used")
    walk.look("95-trail")
    walk.open("/settings/team/powers/")
    walk.look("95-powers")
    assert walk.faults == []
