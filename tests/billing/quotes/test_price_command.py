"""`manage.py price`: a file in, a table or JSON out, and status 2 for a wrong file."""

import io
import json
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from django.core.management import call_command

from billing.quotes.pricing_file import OPTIONAL, REQUIRED

WORKED = Path(__file__).parent / "worked_table.json"


def test_the_table_is_printed_without_a_database(capsys):
    call_command("price", str(WORKED))
    assert "1250.00" in capsys.readouterr().out


def test_json_is_printed(capsys):
    call_command("price", str(WORKED), "--json")
    assert [option["total"] for option in json.loads(capsys.readouterr().out)["options"]] == [
        "800.00",
        "1250.00",
        "2600.00",
        "500.00",
        "125.00",
        "1600.00",
    ]


def test_standard_input_is_read(capsys, monkeypatch):
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(buffer=io.BytesIO(WORKED.read_bytes())))
    call_command("price", "-")
    assert "1250.00" in capsys.readouterr().out


def test_a_wrong_file_ends_with_status_2_and_every_error(capsys, tmp_path):
    file = tmp_path / "wrong.json"
    file.write_text(WORKED.read_text().replace('"days": 28, "full_every": 7', '"days": 0, "full_every": 0'))
    with pytest.raises(SystemExit) as ended:
        call_command("price", str(file))
    assert ended.value.code == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.splitlines() == [
        "options[3].horses.A.phases[0].days: at least 1",
        "options[3].horses.A.phases[0].full_every: at least 1",
    ]


def test_a_file_that_is_not_there_ends_with_status_2(capsys, tmp_path):
    with pytest.raises(SystemExit) as ended:
        call_command("price", str(tmp_path / "none.json"))
    assert ended.value.code == 2
    assert "none.json" in capsys.readouterr().err


def test_help_explains_the_format(capsys):
    with pytest.raises(SystemExit):
        call_command("price", "--help")
    text = capsys.readouterr().out
    for word in (*REQUIRED, *OPTIONAL, "full_every", "full_rule", "spots_per_day", "on_day_off", "status 2"):
        assert word in text
    assert all(len(line) <= 120 for line in text.splitlines() if not line.startswith("usage"))


def test_the_payments_stand_under_each_option_in_brief(capsys):
    call_command("price", str(WORKED))
    text = capsys.readouterr().out
    assert "  Paid: 10 × Visit 800.00 together from Mon 2 Mar 2026.\n" in text
    assert "  Paid: 4 × Visit 125.00 from Mon 2 Mar 2026.\n" in text
    assert "  Paid: Visit 125.00 on Mon 2 Mar 2026.\n" in text


def test_a_booking_deposit_is_paid_when_accepted(capsys, tmp_path):
    file = tmp_path / "deposit.json"
    file.write_text(WORKED.read_text().replace('"days": 28,', '"days": 28, "booking_deposit": {"amount": "50"},', 1))
    call_command("price", str(file))
    printed = capsys.readouterr().out
    assert "  Paid: Booking deposit 50.00 when accepted; 4 × Visit 450.00 together from Mon 2 Mar 2026.\n" in printed
