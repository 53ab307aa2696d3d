"""Lists of a spreadsheet: read, tried row by row, brought in whole or without the bad rows, and taken out again."""

import io
from datetime import date
from decimal import Decimal
from zipfile import ZipFile

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import Workbook

from backoffice.lists.actions import bring_in, look_through, read_list, undo
from backoffice.lists.models import BroughtList
from backoffice.lists.reading import BadTable, Table, guessed, read_table
from backoffice.refusal import Refused
from billing.invoices.models import Invoice
from billing.starting.actions import begin_books
from clients.animals.models import Animal, Ownership
from clients.people.models import Barn, Person
from tests.factories.billing import AT, DAY
from tests.factories.clients import AnimalFactory, BarnFactory, PersonFactory, ServiceFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("business")]
DEMO = settings.BASE_DIR / "fixtures_demo"


def workbook(*rows: tuple) -> bytes:
    book, out = Workbook(), io.BytesIO()
    for row in rows:
        book.active.append(row)
    book.save(out)
    return out.getvalue()


class TestReading:
    def test_commas_semicolons_tabs_and_workbooks_say_the_same(self):
        wanted = Table(("Name", "Born"), (("Biscuit", "2011"), ("Désirée", "")))
        for mark in ",;\t":
            text = f"Name{mark}Born\nBiscuit{mark}2011\n\nDésirée\n"
            assert read_table(text.encode()) == wanted
            assert read_table(text.encode("cp1252")) == wanted
        assert read_table(workbook(("Name", "Born"), ("Biscuit", 2011.0), (None, None), ("Désirée", None))) == wanted

    def test_days_of_a_workbook_are_plain(self):
        assert read_table(workbook(("Day", "x"), (date(2026, 3, 2), 1.5))).rows == (("2026-03-02", "1.5"),)

    @pytest.mark.parametrize(
        ("content", "sentence"),
        [
            (b"", "no table with a heading"),
            (b"Name,Born\n", "no table with a heading"),
            (b"Name,Name\na,b\n", "same heading"),
            (b"\x00\x01", "CSV or XLSX"),
            (b"PK\x03\x04 broken", "cannot be read"),
            (b"Name\n" + b"a\n" * 2001, "at most 2000"),
        ],
        ids=["empty", "a heading alone", "twins", "binary", "a broken workbook", "too long"],
    )
    def test_what_is_no_table_is_told_in_a_sentence(self, content, sentence):
        with pytest.raises(BadTable, match=sentence):
            read_table(content)

    def test_a_workbook_that_swells_is_not_unpacked(self):
        out = io.BytesIO()
        with ZipFile(out, "w", 8) as packed:
            packed.writestr("xl/sharedStrings.xml", b"0" * 70_000_000)
        with pytest.raises(BadTable, match="too large when it is unpacked"):
            read_table(out.getvalue())

    def test_a_column_is_known_by_its_names_whatever_their_case(self):
        assert guessed(["ID", "E-Mail", "name_invented"], ("name", "name invented")) == "name_invented"
        assert guessed(["Horse"], ("owner",)) == ""


def brought(kind: str, by, *rows: tuple[str, ...]) -> BroughtList:
    return read_list(kind=kind, name="mine.csv", table=Table(rows[0], rows[1:]), at=AT, by=by)


def same(*names: str) -> dict[str, str]:
    return {name: name for name in names}


def test_each_bad_row_says_why_and_a_trial_leaves_nothing(owner_manager):
    BarnFactory(name="Tin Bucket Barn")
    heading = ("name", "lat", "lon", "kind")
    found = brought(
        "barns", owner_manager, heading, ("Copper Hasp", "39.5", "-104.7", "Boarding"), ("", "", "", ""),
        ("Tin bucket barn", "", "", ""), ("Far", "95", "0", ""), ("Odd", "", "", "castle"),
    )  # fmt: skip
    problems = look_through(found, same(*heading), at=AT)
    assert [(each.number, each.said) for each in problems] == [(3, ""), (4, "Tin bucket barn"), (5, "Far"), (6, "Odd")]
    told = [" ".join(each.sentences) for each in problems]
    for sentence, words in zip(
        told, ("Name is missing.", "already a barn called", "beyond the pole", "Choose one"), strict=True
    ):
        assert words in sentence
    assert Barn.objects.count() == 1
    with pytest.raises(Refused, match="Mend them in your list, or leave them out"):
        bring_in(brought=found, columns=same(*heading), leave_out=False, at=AT, by=owner_manager)
    bring_in(brought=found, columns=same(*heading), leave_out=True, at=AT, by=owner_manager)
    assert Barn.objects.get(name="Copper Hasp").kind == Barn.Kind.BOARDING
    with pytest.raises(Refused, match="brought in already"):
        bring_in(brought=found, columns=same(*heading), leave_out=True, at=AT, by=owner_manager)


def test_horses_find_barn_and_owner_by_name_or_by_number_of_an_earlier_list(owner_manager):
    BarnFactory(name="Tin Bucket Barn")
    PersonFactory(name="Twin")
    PersonFactory(name="Twin")
    people = brought("people", owner_manager, ("own", "name"), ("O7", "Ottilie"))
    bring_in(brought=people, columns=same("own", "name"), leave_out=False, at=AT, by=owner_manager)
    heading = ("name", "barn", "owner", "birth_year")
    horses = brought(
        "horses", owner_manager, heading, ("Biscuit", "tin bucket barn", "o7", "2011"), ("A", "Nowhere", "O7", ""),
        ("B", "Tin Bucket Barn", "Twin", ""), ("C", "Tin Bucket Barn", "Ottilie", "1950"),
    )  # fmt: skip
    problems = look_through(horses, same(*heading), at=AT)
    told = [" ".join(each.sentences) for each in problems]
    assert told[0] == "The barn “Nowhere” is not here yet, or there are two."
    assert told[1] == "The owner “Twin” is not here yet, or there are two."
    assert "Check the year" in told[2]
    bring_in(brought=horses, columns=same(*heading), leave_out=True, at=AT, by=owner_manager)
    assert Ownership.objects.get(animal__name="Biscuit").person.name == "Ottilie"


def test_a_list_is_taken_out_in_one_step_unless_something_needs_it(owner_manager):
    people = brought("people", owner_manager, ("own", "name"), ("1", "Ottilie"), ("2", "Desmond"))
    bring_in(brought=people, columns=same("own", "name"), leave_out=False, at=AT, by=owner_manager)
    BarnFactory(name="Tin Bucket Barn")
    horses = brought("horses", owner_manager, ("name", "barn", "owner"), ("Biscuit", "Tin Bucket Barn", "1"))
    bring_in(brought=horses, columns=same("name", "barn", "owner"), leave_out=False, at=AT, by=owner_manager)
    with pytest.raises(Refused, match="is needed by"):
        undo(brought=people, at=AT, by=owner_manager)
    assert Person.objects.count() == 2
    undo(brought=horses, at=AT, by=owner_manager)
    undo(brought=people, at=AT, by=owner_manager)
    assert (Person.objects.count(), Animal.objects.count()) == (0, 0)
    with pytest.raises(Refused, match="is not brought in"):
        undo(brought=people, at=AT, by=owner_manager)


def test_open_invoices_come_with_the_first_day_and_stay(owner_manager):
    payer = PersonFactory(name="Ottilie")
    heading = ("name", "person", "issued_on", "due_on", "open_amount")
    row = ("R-1", "Ottilie", "2026-02-01", "2026-02-15", "80.00")
    found = brought("invoices", owner_manager, heading, row, ("R-2", "Ottilie", "soon", "2026-02-15", "x"))
    (first, second) = look_through(found, same(*heading), at=AT)
    assert first.sentences == ("Write down the first day of your books first.",)
    assert len(second.sentences) == 2
    begin_books(day=DAY, bank=Decimal(0), cash=Decimal(0), first_numbers={}, at=AT, by=owner_manager)
    bring_in(brought=found, columns=same(*heading), leave_out=True, at=AT, by=owner_manager)
    assert Invoice.objects.get(payer=payer).name == "R-1"
    with pytest.raises(Refused, match="stays there"):
        undo(brought=found, at=AT, by=owner_manager)


def test_the_three_lists_of_the_demo_through_the_screen(as_owner_manager, time_machine):
    """Barns, people and horses of an invented business into an empty one, by what the columns are guessed to be."""
    time_machine.move_to(AT)
    for kind, name, model in (("barns", "barns", Barn), ("people", "owners", Person), ("horses", "horses", Animal)):
        content = (DEMO / f"{name}.csv").read_bytes()
        file = SimpleUploadedFile(f"{name}.csv", content)
        page = as_owner_manager.post(reverse("backoffice:lists"), {"kind": kind, "file": file}, follow=True)
        form = page.context["form"]
        said = {key: field.initial for key, field in form.fields.items()}
        address = page.redirect_chain[-1][0]
        looked = as_owner_manager.post(address, said)
        rows = len(content.decode().splitlines()) - 1
        assert [problem.sentences for problem in looked.context["problems"]] == []
        assert f"All {rows} rows can be brought in" in looked.content.decode()
        assert model.objects.count() == 0
        assert as_owner_manager.post(address, {**said, "bring": "1"}).status_code == 302
        assert model.objects.count() == rows
    lists = as_owner_manager.get(reverse("backoffice:lists")).content.decode()
    assert "horses.csv" in lists
    taken = BroughtList.objects.get(kind="horses")
    assert as_owner_manager.post(reverse("backoffice:list-undo", args=[taken.pk])).status_code == 302
    assert Animal.objects.count() == 0


def test_a_bad_file_and_a_missing_column_get_a_sentence(as_owner_manager):
    page = reverse("backoffice:lists")
    bad = as_owner_manager.post(page, {"kind": "barns", "file": SimpleUploadedFile("x.csv", b"Name\n")})
    assert (bad.status_code, "no table with a heading" in bad.content.decode()) == (422, True)
    good = SimpleUploadedFile("x.csv", b"Stall,Where\nA,B\n")
    read = as_owner_manager.post(page, {"kind": "barns", "file": good}, follow=True)
    answer = as_owner_manager.post(read.redirect_chain[-1][0], {"name": "", "address": "Nope"})
    told = answer.content.decode()
    assert "Name: choose its column." in told
    assert "Choose one from the list." in told


def test_only_who_runs_the_office(as_assistant, as_bookkeeper, client, owner_manager):
    found = brought("people", owner_manager, ("own", "name"), ("1", "Ottilie"))
    for page in (reverse("backoffice:lists"), reverse("backoffice:list", args=[found.pk])):
        assert client.get(page).status_code == 302
        assert as_assistant.get(page).status_code == 403
        assert as_bookkeeper.get(page).status_code == 403


def test_visits_of_before_hang_on_their_horse(owner_manager):
    horse, full = AnimalFactory(name="Biscuit"), ServiceFactory(name="Whole horse", kind="full")
    heading = ("day", "horse", "service", "minutes", "note")
    visits = brought(
        "visits", owner_manager, heading, ("2026-02-01", "biscuit", "full body", "50", "calm"),
        ("2026-02-01", "Biscuit", "Whole horse", "", ""), ("2026-02-02", "Nobody", "Whole horse", "", ""),
        ("2026-02-03", "Biscuit", "Magic", "", ""), ("2030-02-03", "Biscuit", "Whole horse", "", ""),
    )  # fmt: skip
    told = [" ".join(each.sentences) for each in look_through(visits, same(*heading), at=AT)]
    for sentence, words in zip(
        told, ("noted already", "“Nobody” is not here", "“Magic” is none", "visit of its own"), strict=True
    ):
        assert words in sentence
    bring_in(brought=visits, columns=same(*heading), leave_out=True, at=AT, by=owner_manager)
    work = horse.earlier_work.get()
    assert (work.day, work.service, work.minutes, work.note) == (date(2026, 2, 1), full, 50, "calm")
    undo(brought=visits, at=AT, by=owner_manager)
    assert not horse.earlier_work.exists()
