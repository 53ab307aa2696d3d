"""OWASP Application Security Verification Standard 5.0.0, levels 1 and 2: all 253 requirements stand in `asvs.csv`.

Each is met by a test that is named, not applicable for a cause, or open for a cause. Here: that the table is whole and
its tests are there, and the checks of it that no other file has.
"""

import csv
import logging
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.auth.hashers import get_hashers, identify_hasher, make_password
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from tests.backoffice.upkeep.test_start import GOOD, environment
from tests.factories.backoffice import UserFactory

TABLE = Path(__file__).with_name("asvs.csv")
ROOT = settings.BASE_DIR
SENTENCE = "a quiet mare in the rain"
OURS = [path for side in ("backoffice", "clients", "billing") for path in (ROOT / side).rglob("*.py")]


def table() -> list[dict[str, str]]:
    with TABLE.open(newline="") as file:
        return list(csv.DictReader(file))


def test_the_table_is_whole():
    """Level 1 has 70 requirements and level 2 adds 183: the count of the standard's own CSV."""
    rows = table()
    assert Counter(row["level"] for row in rows) == {"1": 70, "2": 183}
    assert len({row["requirement"] for row in rows}) == 253
    assert {row["status"] for row in rows} == {"met", "not applicable", "open"}
    assert all(len(row["by"]) > 5 for row in rows)


def test_each_met_one_names_a_test_that_is_there():
    for row in table():
        if row["status"] == "met":
            path, *names = row["by"].split("::")
            text = (ROOT / path).read_text()
            for name in names:
                assert re.search(rf"(def|class) {re.escape(name.partition('[')[0])}\b", text), row


@pytest.mark.parametrize(
    ("name", "words"),
    [
        (
            "DEVELOPERS.md",
            (
                "What is taken from people",
                "Signing in and sessions",
                "What takes long",
                "**Keys**",
                "Whom it talks to",
                "**Updates**",
            ),
        ),
        ("requirements.lock", ("django==", "--hash=sha256:")),
    ],
    ids=["DEVELOPERS.md", "requirements.lock"],
)
def test_what_is_documented_is_there(name, words):
    text = (ROOT / name).read_text()
    for each in words:
        assert each in text


@pytest.mark.django_db
def test_every_answer_says_what_it_is_and_where_it_may_stand(as_owner_manager, client):
    for who, address in (
        (as_owner_manager, "/"),
        (client, "/sign-in/"),
        (client, "/nothing/"),
        (client, "/p/quote/x/"),
    ):
        answer = who.get(address)
        assert answer["Content-Type"].startswith("text/html; charset=utf-8")
        assert answer["X-Content-Type-Options"] == "nosniff"
        assert answer["Referrer-Policy"] == "same-origin"
        assert answer["Cross-Origin-Opener-Policy"] == "same-origin"
        assert "Access-Control-Allow-Origin" not in answer
        policy = answer["Content-Security-Policy"]
        for directive in ("default-src 'none'", "script-src 'self'", "frame-ancestors 'none'", "base-uri 'none'"):
            assert directive in policy
        assert "unsafe" not in policy


def test_cookies_of_real_work(tmp_path):
    """Read in a process with the settings of real work, with Django's own checks for a deployment."""
    names = ("SESSION_COOKIE_NAME", "CSRF_COOKIE_NAME", "SESSION_COOKIE_SECURE", "CSRF_COOKIE_SECURE")
    names += ("SESSION_COOKIE_HTTPONLY", "CSRF_COOKIE_HTTPONLY", "SESSION_COOKIE_SAMESITE", "CSRF_COOKIE_SAMESITE")
    names += ("SECURE_HSTS_SECONDS", "DEBUG")
    script = f"from django.conf import settings as s; print([getattr(s, n) for n in {names!r}])"
    values = {
        "env": environment(tmp_path, **{**GOOD, "SECRET_KEY": SENTENCE * 3}),
        "cwd": ROOT,
        "capture_output": True,
        "text": True,
    }
    told = subprocess.run([sys.executable, "-c", script], **values).stdout
    assert told.strip() == str(["__Host-session", "__Host-csrf", *[True] * 4, "Lax", "Lax", 31536000, False])
    checked = subprocess.run([sys.executable, "manage.py", "check", "--deploy", "--fail-level", "WARNING"], **values)
    assert checked.returncode == 0, checked.stderr


@pytest.mark.django_db
def test_a_post_from_elsewhere_is_refused(owner_manager):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(owner_manager)
    assert strict.post(reverse("clients:person-new"), {"name": "x"}).status_code == 403


@pytest.mark.django_db
@pytest.mark.parametrize("method", ["TRACE", "CONNECT", "PUT", "DELETE"])
def test_methods_that_nobody_needs(as_owner_manager, method):
    assert as_owner_manager.generic(method, reverse("clients:people")).status_code == 405


@pytest.mark.django_db
def test_passwords_by_their_length_alone(settings):
    """NIST SP 800-63B-4, 3.1.1.2: 15 characters where it is the only factor, no rule of composition, no expiry."""
    for good in (SENTENCE, "aaaa bbbb cccc dddd", "ليلى تحب التفاح كل يوم", "x9" * 60, " spaces around kept "):
        validate_password(good)
    for bad, words in (("fourteen chars", "15"), ("123456789987654321", "common"), ("1q2w3e4r5t6y7u8i9o0p", "common")):
        with pytest.raises(ValidationError, match=words):
            validate_password(bad)
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.PBKDF2PasswordHasher"]
    get_hashers.cache_clear()
    try:
        hasher = identify_hasher(make_password(SENTENCE))
        assert (hasher.algorithm, hasher.iterations >= 600_000) == ("pbkdf2_sha256", True)
    finally:
        get_hashers.cache_clear()


@pytest.mark.django_db
def test_password_fields_hide_and_let_paste(client, business):
    UserFactory()
    page = client.get("/sign-in/").content.decode()
    field = re.search(r'<input type="password"[^>]*>', page)[0]
    assert 'autocomplete="current-password"' in field
    assert "onpaste" not in page
    assert "maxlength" not in field
    assert not re.search("hint|secret question", page, re.IGNORECASE)


@pytest.mark.django_db
def test_a_session_is_new_on_signing_in_and_gone_on_signing_out(client, owner_manager):
    owner_manager.set_password(SENTENCE)
    owner_manager.save()
    client.get("/sign-in/")
    client.session.save()
    before = client.cookies.get("sessionid")
    client.post("/sign-in/", {"username": owner_manager.username, "password": SENTENCE})
    inside = client.cookies["sessionid"].value
    assert len(inside) >= 32
    assert before is None or inside != before.value
    assert client.get("/account/").status_code == 200
    client.post("/sign-out/")
    stolen = Client()
    stolen.cookies["sessionid"] = inside
    assert stolen.get("/account/").status_code == 302


@pytest.mark.django_db
def test_signing_in_is_logged_without_secrets(client, owner_manager, caplog):
    owner_manager.set_password(SENTENCE)
    owner_manager.save()
    with caplog.at_level(logging.INFO, logger="backoffice"):
        client.post("/sign-in/", {"username": "x\nsigned in: account 1", "password": "a secret guess of mine"})
        client.post("/sign-in/", {"username": owner_manager.username, "password": SENTENCE})
    lines = [record.getMessage() for record in caplog.records if record.name.startswith("backoffice")]
    assert [line.partition(" as ")[0].partition(":")[0] for line in lines] == ["wrong sign-in", "signed in"]
    assert "\n" not in "".join(lines)
    assert "secret guess" not in caplog.text
    assert SENTENCE not in caplog.text


@pytest.mark.django_db
def test_a_refused_page_is_logged(as_assistant, caplog):
    with caplog.at_level(logging.WARNING, logger="django.request"):
        as_assistant.get(reverse("backoffice:settings"))
    assert "Forbidden" in caplog.text


def test_no_code_is_made_of_text():
    """No eval, no exec, no shell, no pickle, no SQL put together, no template of text from elsewhere."""
    bad = r"\beval\(|\bexec\(|shell=True|os\.system|import pickle|pickle\.loads|\.raw\(|RawSQL|\.extra\(|Template\("
    found = [f"{path.name}: {hit}" for path in OURS for hit in re.findall(bad, path.read_text())]
    assert found == []


def test_no_weak_hash_is_used():
    found = [path.name for path in OURS if re.search(r"hashlib\.(md5|sha1)\b|hashes\.(MD5|SHA1)\b", path.read_text())]
    assert found == []
