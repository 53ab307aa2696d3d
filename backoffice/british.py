"""British words and spelling in place of American ones: in our own text only, never in what people wrote.

Templates are turned as they are read, outside of tags, variables and markup; labels as a form is made. What is meant is
said once, in the words of the United States, and here in those of the United Kingdom.
"""

import re
from contextvars import ContextVar
from functools import cache, partial

WORDS = {
    "barn": "yard",
    "barns": "yards",
    "barnside": "yardside",
    "color": "colour",
    "colors": "colours",
    "gray": "grey",
    "license": "licence",
    "licenses": "licences",
    "kilometers": "kilometres",
    "meters": "metres",
    "organization": "organisation",
    "authorized": "authorised",
    "recognize": "recognise",
    "stall": "box",
    "truck": "van",
    "gas": "petrol",
    "trailer": "horsebox",
    "sales tax": "VAT",
    "zip": "postcode",
    "labored": "laboured",
}
# "check" is a noun only in these; the verb stays
CHECK = (
    (r"\b(by|a|the|this|each|of|no) check\b(?! of| that| the| your| it)", r"\1 cheque"),
    (r"\bchecks(?= and cash| in hand| at the bank| to the bank| are banked)|^checks$", "cheques"),
    (r"\bcheck(?= number)|^check$", "cheque"),
)
TOKEN = re.compile(r"({%.*?%}|{{.*?}}|{#.*?#})", re.DOTALL)
SAID_IN_TAG = re.compile(r"""\b(title|text|label|nothing)=(["'])(.*?)\2""")
_british: ContextVar[bool] = ContextVar("british", default=False)


def use(words: str) -> None:
    """Whose words hold from here on in this request or task: "us" or "uk"."""
    _british.set(words == "uk")


def is_british() -> bool:
    return _british.get()


def spoken(text: str) -> str:
    """The text in the words that hold; numbers and other things come through."""
    return british(text) if _british.get() and isinstance(text, str) else text


def spoken_within(text: str) -> str:
    """The same for a sentence that may hold names people gave: a word with a capital is left as it is."""
    return _replaced(text, keep_capitals=True) if _british.get() else text


def british(text: str) -> str:
    return _replaced(text, keep_capitals=False)


def _replaced(text: str, *, keep_capitals: bool) -> str:
    for pattern, instead in CHECK:
        text = re.sub(pattern, partial(_noun, instead), text, flags=re.IGNORECASE)
    return _pattern().sub(lambda match: _word(match.group(), keep_capitals), text)


@cache
def _pattern() -> re.Pattern[str]:
    longest_first = sorted(WORDS, key=len, reverse=True)
    return re.compile(rf"\b({'|'.join(longest_first)})\b", re.IGNORECASE)


def _noun(instead: str, match: re.Match[str]) -> str:
    return _cased(match.group(), match.expand(instead))


def _word(found: str, keep_capitals: bool) -> str:
    if keep_capitals and found[0].isupper():
        return found
    return _cased(found, WORDS[found.lower()])


def _cased(found: str, new: str) -> str:
    return new[0].upper() + new[1:] if found[0].isupper() else new


def template_in_british(source: str) -> str:
    """The source of a template with its own text turned: not its tags, variables, comments and markup."""
    pieces, in_markup = [], False
    for piece in TOKEN.split(source):
        if piece.startswith(("{{", "{#")):
            pieces.append(piece)
        elif piece.startswith("{%"):
            pieces.append(SAID_IN_TAG.sub(lambda match: f"{match[1]}={match[2]}{british(match[3])}{match[2]}", piece))
        else:
            turned, in_markup = _text_turned(piece, in_markup)
            pieces.append(turned)
    return "".join(pieces)


def _text_turned(piece: str, in_markup: bool) -> tuple[str, bool]:
    turned = []
    for part in re.split(r"([<>])", piece):
        if part in ("<", ">"):
            in_markup = part == "<"
            turned.append(part)
        else:
            turned.append(part if in_markup else british(part))
    return "".join(turned), in_markup
