"""An empty database gets by its migrations what the models say, all at once."""

import os
import re
import sqlite3
import subprocess
import sys
from typing import Any

import pytest
from django.db import connection, migrations, models

from backoffice.creating import CreateTogether

KEY = ("id", models.BigAutoField(primary_key=True))


@pytest.mark.skipif(connection.vendor != "sqlite", reason="reads the schema as SQLite keeps it")
def test_the_tables_are_those_that_the_models_say(db, tmp_path):
    env = {
        **os.environ,
        "DATABASE_URL": f"sqlite:///{tmp_path / 'new.sqlite3'}",
        "BACKOFFICE_VAR": str(tmp_path),
        "DJANGO_SETTINGS_MODULE": "backoffice.settings.local",
    }
    subprocess.run([sys.executable, "manage.py", "migrate", "--verbosity", "0"], env=env, check=True)
    with sqlite3.connect(tmp_path / "new.sqlite3") as made, connection.cursor() as said:
        found = _schema(made)
        assert found == _schema(said)
    assert len(found) > 400


def _schema(asked: Any) -> set[tuple[str, ...]]:
    """What makes each table and index, in whatever order its columns and constraints stand."""
    rows = asked.execute("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL AND tbl_name <> 'django_migrations'")
    return {tuple(sorted(re.split(r"[\s,()]+", sql))) for (sql,) in rows}


def test_what_changes_another_table_is_no_part_of_it():
    one = migrations.CreateModel("One", [KEY])
    CreateTogether([one, migrations.AddField("one", "day", models.DateField(null=True))])
    with pytest.raises(ValueError, match="Add field day to two: not of a table that is created here"):
        CreateTogether([one, migrations.AddField("two", "day", models.DateField(null=True))])
