"""The README stays true: its example and the commands it names."""

import re
from pathlib import Path

from django.core.management import get_commands

from billing.quotes.pricing_file import price_file

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")


def fenced(kind: str) -> list[str]:
    return re.findall(rf"```{kind}\n(.*?)\n```", README, flags=re.DOTALL)


def test_the_priced_example_is_the_file_and_prints_what_is_shown():
    (shown,) = fenced("json")
    content = (ROOT / "fixtures_demo" / "price_example.json").read_bytes()
    assert shown == content.decode().rstrip()
    assert fenced("text") == [price_file(content).rstrip()]


def test_every_command_it_names_exists():
    named = set(re.findall(r"manage\.py ([a-z_]+)", README))
    assert named <= set(get_commands())
    assert {"demo", "serve", "verify", "price", "round"} <= named


def test_every_picture_it_shows_is_there():
    pictures = re.findall(r"!\[[^\]]*\]\(([^)]+)\)", README)
    assert pictures
    assert [picture for picture in pictures if not (ROOT / picture).exists()] == []


def test_every_value_of_the_environment_is_told_of():
    sources = [
        *(ROOT / "backoffice").rglob("*.py"),
        *(ROOT / "billing").rglob("*.py"),
        *(ROOT / "clients").rglob("*.py"),
    ]
    asked = {name for source in sources for name in re.findall(r'environ(?:\.get\(|\[)"(\w+)"', source.read_text())}
    assert {"SECRET_KEY", "BEHIND_PROXY", "PORT"} <= asked
    assert sorted(name for name in asked if f"`{name}`" not in README) == []


def test_no_list_of_pins_holds_an_address():
    for name in ("pyproject.toml", "requirements.lock"):
        assert "://" not in (ROOT / name).read_text(encoding="utf-8")
