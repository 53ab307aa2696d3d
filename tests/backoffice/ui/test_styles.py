"""The style sheet of a feature never changes what every page shares: a class that both define is two things."""

import re
from pathlib import Path

import pytest
from django.conf import settings

STYLES = Path(settings.STATICFILES_DIRS[0]) / "css"
SHARED = ("tokens", "app", "lists", "forms")
ALONE = {"barn"}  # the page that is taken along has its own sheet and none of the shared ones


def classes(name: str) -> set[str]:
    """Those that the sheet styles by themselves, such as `.rows` but not `.rows.split` or `.sheet .rows`."""
    text = re.sub(r"/\*.*?\*/", "", (STYLES / f"{name}.css").read_text(), flags=re.DOTALL)
    selectors = (each.strip() for rule in re.findall(r"([^{}]+)\{", text) for each in rule.split(","))
    return {each for each in selectors if re.fullmatch(r"\.[\w-]+", each)}


FEATURES = sorted({sheet.stem for sheet in STYLES.glob("*.css")} - set(SHARED) - ALONE)


@pytest.mark.parametrize("feature", FEATURES)
def test_a_feature_restyles_no_shared_class(feature):
    assert classes(feature) & set.union(*map(classes, SHARED)) == set()
