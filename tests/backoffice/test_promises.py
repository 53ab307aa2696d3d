import json

import pytest

from backoffice.promises.rules import LIST, Promise, promises_in


def said(text):
    return [promise.words for promise in promises_in(text)]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("This will cure her.", ["cure"]),
        ("GUARANTEED results", ["GUARANTEED"]),
        ("Pain-free in a week", ["Pain-free"]),
        ("pain   \n free", ["pain free"]),
        ("clinically proven", ["clinically proven"]),
        ("We heal and heal and Heal.", ["heal"]),
        ("Heals and cures", ["Heals", "cures"]),
        ("It not only heals, it lasts.", ["heals"]),
        ("No lameness any more. It cures.", ["cures"]),
        ("The best option for her", ["The best"]),
    ],
)
def test_a_promise_is_found_as_it_was_written(text, words):
    assert said(text) == words


@pytest.mark.parametrize(
    "text",
    [
        "",
        "Every third day, with spots between.",
        "This does not cure anything.",
        "It is no promise of a cure.",
        "It can't heal; your vet can say more.",
        "Best wishes, Wren",
        "The secure gate, the healthy mare, the prefix",
        "100 % of the guideline",
        "علاج 🐴 <script>alert(1)</script>",
    ],
)
def test_plain_words_and_denials_are_let_through(text):
    assert said(text) == []


def test_each_entry_has_a_better_word_that_is_no_promise_itself():
    for entry in json.loads(LIST.read_text()):
        assert entry["find"], entry
        assert promises_in(entry["instead"]) == (), entry


def test_every_phrase_of_the_list_is_found():
    for entry in json.loads(LIST.read_text()):
        for phrase in entry["find"]:
            assert promises_in(f"so, {phrase}."), phrase


def test_the_better_word_comes_with_it():
    assert promises_in("cured")[0] == Promise("cured", "ease")


def test_five_megabytes_are_read_in_part():
    assert promises_in("x" * 5_000_000 + " cure") == ()
