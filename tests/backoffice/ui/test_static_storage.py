"""Scripts that import each other lead to hashed names, so that a phone opens what it kept."""

import re
import shutil
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders

from backoffice.ui.static_storage import HashedFiles
from clients.barnside import shell


@pytest.fixture
def stored(tmp_path, settings) -> HashedFiles:
    settings.DEBUG = False
    storage = HashedFiles(location=tmp_path, base_url="/static/")
    names = [name for name in shell.files() if name.endswith(".js")]
    for name in names:
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(finders.find(name), tmp_path / name)
    faults = [done for _, _, done in storage.post_process({name: (storage, name) for name in names})]
    assert not [fault for fault in faults if isinstance(fault, Exception)]
    return storage


def test_each_import_of_the_barns_scripts_is_a_kept_address(stored):
    kept = {stored.url(name).rsplit("/", 1)[1] for name in shell.files() if name.endswith(".js")}
    imported = set()
    for name in shell.files():
        if name.endswith(".js"):
            text = Path(stored.path(stored.stored_name(name))).read_text()
            imported |= {path.rsplit("/", 1)[1] for path in re.findall(r'(?:from|import)\s*"([^"]+\.js)"', text)}
    assert len(imported) > 8
    assert imported <= kept


def test_an_import_of_a_type_in_a_comment_needs_no_file(tmp_path, settings):
    settings.DEBUG = False
    (tmp_path / "typed.js").write_text('/** @type {import("../not_there").Type} */\nexport const one = 1;\n')
    storage = HashedFiles(location=tmp_path, base_url="/static/")
    [(_, _, done)] = [row for row in storage.post_process({"typed.js": (storage, "typed.js")}) if row[0] == "typed.js"]
    assert done is True
