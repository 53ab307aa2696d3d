import pytest

from clients.people.names import folded


@pytest.mark.parametrize(
    ("one", "other"),
    [("Imani Velloran", "  imani   velloran"), ("Noémie Åsa", "noemie asa"), ("ÖRN", "örn")],
)
def test_case_accents_and_spaces_do_not_tell_names_apart(one, other):
    assert folded(one) == folded(other)


def test_other_scripts_keep_their_letters():
    assert folded("ليلى") == "ليلى"
    assert folded("ليلى") != folded("سلمى")
