"""Tags and filters that every template has without loading them."""

from typing import Any

from django import template
from django.utils.safestring import SafeString

from backoffice import british
from backoffice.ui import chips, icons, navigation, words

register = template.Library()

register.filter("money", words.money)
register.filter("clock", words.clock)
register.filter("hours", words.hours)
register.filter("distance", words.distance)
register.filter("percent_down", words.percent_down)
register.filter("in_fours", words.in_fours)
register.filter("spoken", british.spoken)
register.filter("spoken_within", lambda said: british.spoken_within(str(said)))


@register.filter
def day(value: Any) -> str:
    return words.day(value)


@register.simple_tag(takes_context=True)
def ways_on(context: Any, kind: str, pk: int) -> list[tuple[str, str]]:
    """Such as from a person's page to their account."""
    return navigation.ways_on(context["request"].user, kind, pk)


@register.simple_tag
def icon(name: str, label: str = "") -> SafeString:
    return icons.icon(name, label)


@register.simple_tag
def chip(word: Any, tone: str = "plain", icon_name: str = "") -> SafeString:
    return chips.chip(str(word), tone, icon_name)
