"""Tests that look at a PDF with another program skip, saying so, where it is not installed; CI fails on such a skip."""

import shutil

import pytest


def needs_tool(*names: str):
    missing = [name for name in names if shutil.which(name) is None]
    return pytest.mark.skipif(bool(missing), reason=f"not installed: {', '.join(missing)} (poppler-utils, qpdf)")
