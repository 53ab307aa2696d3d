"""A short run of `tests/benchmarks/fuzz_uploads.py`."""

import pytest

from tests.benchmarks.fuzz_uploads import made_ready

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("seed", [1, 2])
def test_hostile_files_and_posts_break_nothing_and_leave_nothing(seed, private_folder):
    fuzz = made_ready(private_folder, seed=seed).run(50)
    assert fuzz.faults == []
    assert sum(fuzz.answers.values()) == 50
    assert any("422" in kind for kind in fuzz.answers)


def test_the_fuzz_itself_sees_a_file_that_should_not_be_there(private_folder):
    fuzz = made_ready(private_folder, seed=1)
    (private_folder / "left.pdf").write_bytes(b"<script>")
    fuzz.run(1)
    assert any("stored as left.pdf with something harmful" in fault for fault in fuzz.faults)
