"""A state shown as a word with an icon; the color only repeats what the word says."""

from django.utils.html import format_html
from django.utils.safestring import SafeString

from backoffice.british import spoken
from backoffice.ui.icons import icon

TONES = {"ready": "tick", "ask": "clock", "hold": "warning", "info": "", "plain": ""}


def chip(word: str, tone: str = "plain", icon_name: str = "") -> SafeString:
    """`tone` is one of ready, ask, hold, info, plain; ready, ask and hold carry their icon unless another is named."""
    if tone not in TONES:
        raise ValueError(f"{tone} is not a tone: {', '.join(TONES)}.")
    name = icon_name or TONES[tone]
    return format_html('<span class="chip {}">{}{}</span>', tone, icon(name) if name else "", spoken(word))
