"""The start of the server, in a process of its own: what it refuses to start without."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from backoffice.settings.base import kept_secret
from backoffice.upkeep.serving import address, options

ROOT = Path(__file__).resolve().parents[3]
GOOD = {
    "DJANGO_SETTINGS_MODULE": "backoffice.settings.prod",
    "SECRET_KEY": "k3y-" * 16,
    "ALLOWED_HOSTS": "desk.example",
    "PUBLIC_ADDRESS": "https://desk.example",
}


def environment(folder: Path, **values: str) -> dict[str, str]:
    kept = {name: os.environ[name] for name in ("PATH", "HOME", "LANG", "VIRTUAL_ENV") if name in os.environ}
    return {**kept, "BACKOFFICE_VAR": str(folder), **values}


def run(folder: Path, *command: str, **values: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *command], cwd=ROOT, env=environment(folder, **values), capture_output=True, text=True
    )


def test_with_everything_set_the_checks_pass(tmp_path):
    done = run(tmp_path, "manage.py", "check", **GOOD)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"SECRET_KEY": ""}, "SECRET_KEY is missing or shorter than 50 characters."),
        ({"SECRET_KEY": "short"}, "SECRET_KEY is missing or shorter than 50 characters."),
        ({"ALLOWED_HOSTS": ""}, "ALLOWED_HOSTS is missing"),
        ({"PUBLIC_ADDRESS": "http://desk.example"}, "PUBLIC_ADDRESS is missing or is not https"),
    ],
)
def test_a_missing_value_stops_the_start_with_a_sentence(tmp_path, changes, sentence):
    done = run(tmp_path, "manage.py", "serve", "--port", "1", **{**GOOD, **changes})
    assert done.returncode != 0
    assert sentence in done.stderr
    assert "Traceback" not in done.stderr


def test_a_server_of_one_s_own_does_not_start_without_them_either(tmp_path):
    done = run(tmp_path, "-c", "import backoffice.wsgi", **{**GOOD, "SECRET_KEY": "", "ALLOWED_HOSTS": ""})
    assert done.returncode != 0
    assert "SECRET_KEY is missing" in done.stderr
    assert "ALLOWED_HOSTS is missing" in done.stderr


def test_the_secret_is_made_once_and_for_its_owner_only(tmp_path):
    file = tmp_path / "var" / "secret"
    first = kept_secret(file)
    assert len(first) >= 50
    assert kept_secret(file) == first
    assert file.stat().st_mode & 0o777 == 0o600


def test_the_address_is_one_that_this_machine_can_open(settings):
    settings.PUBLIC_ADDRESS = "http://127.0.0.1:8000"
    assert address(bind="127.0.0.1", port=8123) == "http://127.0.0.1:8123"
    assert address(bind="::", port=80) == "http://127.0.0.1:80"
    settings.PUBLIC_ADDRESS = "https://desk.example"
    assert address(bind="127.0.0.1", port=8123) == "https://desk.example"


def test_an_ipv6_address_is_bound_as_one():
    assert options(bind="::1", port=80)["bind"] == "[::1]:80"
