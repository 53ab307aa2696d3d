from pathlib import Path

import pytest
from django.contrib.staticfiles import finders

from backoffice.ui.finders import CarriedFilesFinder, carried_files


def test_every_carried_file_is_there_and_found():
    for path, file in carried_files().items():
        assert file.is_file()
        assert finders.find(path) == str(file)


@pytest.mark.parametrize("path", ["bootstrap/bootstrap.js", "../pyproject.toml", "fonts/../../secrets", ""])
def test_nothing_else_of_the_packages_is_served(path):
    assert CarriedFilesFinder().find(path) == []
    assert CarriedFilesFinder().find(path, find_all=True) == []


def test_collecting_reads_each_file_through_its_storage():
    listed = dict(CarriedFilesFinder().list(None))
    assert set(listed) == set(carried_files())
    for path, storage in listed.items():
        with storage.open(path) as file:
            assert file.read(4) == Path(carried_files()[path]).read_bytes()[:4]


def test_the_map_that_bootstrap_names_comes_with_it():
    style = carried_files()["bootstrap/bootstrap.min.css"].read_text(encoding="utf-8")
    assert style.rstrip().endswith("sourceMappingURL=bootstrap.min.css.map */")
    assert "bootstrap/bootstrap.min.css.map" in carried_files()
