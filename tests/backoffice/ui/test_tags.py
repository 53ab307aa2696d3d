from types import SimpleNamespace

import pytest
from django.template import Context, Template
from django.template.loader import render_to_string

from backoffice.ui import icons
from backoffice.ui.chips import TONES, chip

NEEDED = (
    "today diary horse people quote money paper settings more search plus tick clock warning info back print download"
)
NEEDED += " drive phone pin pen machine sign-out barn"


def render(source: str, **context: object) -> str:
    return Template(source).render(Context(context))


@pytest.mark.parametrize("name", NEEDED.split())
def test_every_icon_of_the_set_is_drawn_with_strokes_only(name):
    drawing = icons.drawing(name)
    assert "<path" in drawing
    assert "fill=" not in drawing
    assert "style" not in drawing


def test_an_icon_is_hidden_from_readers_unless_it_says_something_alone():
    assert 'aria-hidden="true"' in render('{% icon "horse" %}')
    assert 'aria-label="Search &lt;here&gt;"' in render('{% icon "search" label %}', label="Search <here>")


@pytest.mark.parametrize("tone", TONES)
def test_a_chip_always_says_its_word(tone):
    assert ">hold &amp; wait<" in render("{% chip word tone %}", word="hold & wait", tone=tone).replace("</svg>", ">")


@pytest.mark.parametrize("tone", ["ready", "ask", "hold"])
def test_permission_has_an_icon_beside_the_word(tone):
    assert "<svg" in chip(tone, tone)


def test_a_tone_nobody_named_is_an_error():
    with pytest.raises(ValueError, match="purple is not a tone"):
        chip("odd", "purple")


def permission(reasons: int) -> SimpleNamespace:
    return SimpleNamespace(
        result="hold",
        reasons=[SimpleNamespace(sentence=f"Reason {n}.", clears="A paper.", who="The vet") for n in range(reasons)],
        notes=["Take care: near hock."],
    )


def test_permission_shows_three_reasons_and_folds_the_rest():
    html = render_to_string("ui/_permission.html", {"permission": permission(5)})
    before, after = html.split("<details>")
    assert [f"Reason {n}." in before for n in range(5)] == [True, True, True, False, False]
    assert "Reason 4." in after
    assert "Needs: A paper. The vet." in html
    assert "Take care: near hock." in html


def test_permission_with_few_reasons_folds_nothing():
    assert "<details>" not in render_to_string("ui/_permission.html", {"permission": permission(1)})


def test_a_strip_says_each_session_and_keeps_quiet_about_empty_days():
    days = [{"kind": "full", "by": "us", "label": "Mon 2 Mar: full body"}, {"kind": "none", "by": "us", "label": "Tue"}]
    html = render_to_string("ui/_strip.html", {"days": days})
    assert html.count("<li") == 2
    assert "Mon 2 Mar: full body" in html
    assert "Tue" not in html
    assert "style=" not in html


def test_an_empty_page_says_what_to_do_next():
    html = render_to_string("ui/_empty.html", {"title": "No barn yet", "text": "<b>", "label": "Add one", "url": "/b/"})
    assert "No barn yet" in html
    assert "&lt;b&gt;" in html
    assert '<a class="button primary" href="/b/">Add one</a>' in html
    assert "<a" not in render_to_string("ui/_empty.html", {"title": "No barn yet"})


def test_the_chip_partial_needs_only_a_word():
    assert 'class="chip plain"' in render_to_string("ui/_chip.html", {"word": "draft"})


def test_the_pad_keeps_what_was_drawn_and_says_what_to_do_without_script():
    html = render_to_string("ui/_signature.html", {"name": "strokes", "value": '[[[1, 2]]] "<script>"'})
    assert 'name="strokes" value="[[[1, 2]]] &quot;&lt;script&gt;&quot;"' in html
    assert "<script" not in html
    assert "print this page and sign it with a pen" in html
    assert "<div data-pad hidden>" in html
