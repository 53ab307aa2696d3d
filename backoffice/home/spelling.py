"""Words that somebody may have meant: close in spelling to what was typed."""

from collections.abc import Collection, Sequence
from difflib import get_close_matches

SHORTEST = 4  # of three letters nearly every word is close to another
CLOSE, MOST = 0.75, 5

Meant = tuple[str, ...]


def meant(typed: Sequence[str], known: Collection[str]) -> list[Meant]:
    """For each word typed: itself where a known word holds it, else the known words that are close, else itself."""
    return [(word,) if any(word in each for each in known) else _close(word, known) or (word,) for word in typed]


def _close(word: str, known: Collection[str]) -> Meant:
    if len(word) < SHORTEST or not word.isalpha():
        return ()
    return tuple(get_close_matches(word, known, n=MOST, cutoff=CLOSE))
