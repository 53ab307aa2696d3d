import json
from io import StringIO

import pytest
from django.core.management import call_command

from tests.clients.rounds.test_round_file import RIGHT


def run(tmp_path, written, *options):
    file = tmp_path / "day.json"
    file.write_text(written if isinstance(written, str) else json.dumps(written), encoding="utf-8")
    out, err = StringIO(), StringIO()
    call_command("round", str(file), *options, stdout=out, stderr=err)
    return out.getvalue()


def test_the_plan_is_printed_as_json(tmp_path):
    assert json.loads(run(tmp_path, RIGHT, "--json")) == {
        "order": [
            {"id": "A", "arrive": "09:00", "start": "09:00", "end": "10:15"},
            {"id": "B", "arrive": "10:24", "start": "13:15", "end": "13:55"},
        ],
        "lunch": "11:30",
        "leave": "08:48",
        "back": "14:15",
        "drive_minutes": 41,
        "wait_minutes": 141,
        "unplaced": [],
        "notices": [],
    }


def test_what_has_no_place_is_printed_with_code_and_sentence(tmp_path):
    file = {**RIGHT, "stops": [{"id": "long", "at": 1, "minutes": 900}]}
    printed = json.loads(run(tmp_path, file, "--json"))
    assert printed["unplaced"] == [
        {"id": "long", "reasons": [{"code": "day_too_long", "sentence": "A longer day would let it in."}]}
    ]
    assert (printed["leave"], printed["back"], printed["order"]) == (None, None, [])


def test_the_plan_is_printed_as_lines_to_read(tmp_path):
    stops = [*RIGHT["stops"], {"id": "فرس 🐎", "at": 1, "minutes": 900}]
    assert run(tmp_path, {**RIGHT, "stops": stops}).splitlines() == [
        "08:48  leave the base",
        "09:00  A until 10:15",
        "11:30  lunch at B until 12:00",
        "13:15  B until 13:55 (there at 10:24)",
        "14:15  back at the base",
        "",
        "41 min of drive, 141 min of waiting",
        "No place for فرس 🐎: A longer day would let it in.",
    ]


def test_lunch_left_out_is_told(tmp_path):
    file = {**RIGHT, "stops": [{"id": "long", "at": 1, "minutes": 500, "locked": "08:12"}]}
    assert "Lunch is left out: it cannot be had together with the locked stops." in run(tmp_path, file)


def test_a_day_without_stops_is_printed(tmp_path):
    lines = run(tmp_path, {**RIGHT, "stops": []}).splitlines()
    assert lines[:2] == ["No stop has a place in this day.", "11:30  lunch at the base until 12:00"]


def test_a_wrong_file_prints_every_error_and_ends_with_status_two(tmp_path):
    err = StringIO()
    file = tmp_path / "day.json"
    file.write_text(json.dumps({**RIGHT, "day": 1, "lunch": 2}), encoding="utf-8")
    with pytest.raises(SystemExit) as ended:
        call_command("round", str(file), stderr=err)
    assert ended.value.code == 2
    assert err.getvalue().splitlines() == [
        "day: this must be an object in braces.",
        "lunch: this must be an object in braces.",
    ]


@pytest.mark.parametrize(
    ("content", "error"),
    [
        (None, "file: it cannot be read (No such file or directory)."),
        (b"\xff\xfe\x00", "file: it is not text in UTF-8."),
    ],
)
def test_a_file_that_cannot_be_read_is_told(tmp_path, content, error):
    file, err = tmp_path / "day.json", StringIO()
    if content is not None:
        file.write_bytes(content)
    with pytest.raises(SystemExit) as ended:
        call_command("round", str(file), stderr=err)
    assert ended.value.code == 2
    assert err.getvalue().strip() == error
