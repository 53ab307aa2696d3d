"""The one icon set, drawn for this project: strokes on a 24-unit square, colored by the text around them."""

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

ICONS = {
    "today": '<path d="M12 3v2M12 19v2M3 12h2M19 12h2M5.6 5.6 7 7M17 17l1.4 1.4M5.6 18.4 7 17M17 7l1.4-1.4"/><circle cx="12" cy="12" r="4"/>',
    "diary": '<path d="M4 6.5h16V20H4zM4 10.5h16M8 4v4M16 4v4M8 14h2M8 17h2M14 14h2"/>',
    "horse": '<path d="M6 21c0-4 1-6 2.5-8L5.7 15c-.9.6-2 .4-2.5-.6-.4-.9-.1-1.9.7-2.5L8 6.500 8.500 3l2.200 2c4.500.3 7.800 3.800 8.300 9l.5 7M11 9h.01M12 13c2 2 2.500 5 1.500 8"/>',
    "people": '<circle cx="9" cy="8" r="3.500"/><path d="M2.500 20c.3-4 2.800-6 6.500-6s6.200 2 6.500 6M15.500 4.800a3.500 3.500 0 0 1 0 6.400M18 14.500c2.200.8 3.300 2.700 3.500 5.500"/>',
    "quote": '<path d="M4 5h16M4 12h10M4 19h6M18 10v9M15.500 16.500 18 19l2.500-2.500"/>',
    "money": '<path d="M3 7h18v11H3zM3 11h18M6.500 15h4"/>',
    "paper": '<path d="M6 3h8l4 4v14H6zM14 3v4h4M9 12h6M9 16h6"/>',
    "settings": '<path d="M4 7h9M17 7h3M4 17h3M11 17h9"/><circle cx="15" cy="7" r="2"/><circle cx="9" cy="17" r="2"/>',
    "more": '<path d="M4 7h16M4 12h16M4 17h16"/>',
    "search": '<circle cx="10.500" cy="10.500" r="6"/><path d="m15 15 5.500 5.500"/>',
    "plus": '<path d="M12 5v14M5 12h14"/>',
    "tick": '<circle cx="12" cy="12" r="9"/><path d="m8 12.500 2.800 2.700L16 9.500"/>',
    "clock": '<circle cx="12" cy="12" r="9"/><path d="M12 7v5.500l3.500 2"/>',
    "warning": '<path d="M12 3.500 21.500 20h-19zM12 10v4.500M12 17.200v.1"/>',
    "info": '<circle cx="12" cy="12" r="9"/><path d="M12 11v5.500M12 7.600v.1"/>',
    "back": '<path d="M20 12H5M11 6l-6 6 6 6"/>',
    "print": '<path d="M7 9V3h10v6M7 17H4V9h16v8h-3M7 14h10v7H7z"/>',
    "download": '<path d="M12 4v11M7 10.500l5 5 5-5M4 20h16"/>',
    "drive": '<path d="M3 16v-4l2.500-5.500h9L18 12h3v4h-3M10 16h4M10 6.500V12M3 12h15"/><circle cx="7.500" cy="16.500" r="2"/><circle cx="16" cy="16.500" r="2"/>',
    "phone": '<path d="M5 4h4l1.800 4.500L8.500 10.500c1 2 3 4 5 5l2-2.300L20 15v4c0 .6-.4 1-1 1C11 20 4 13 4 5c0-.6.4-1 1-1z"/>',
    "pin": '<path d="M12 21c4.500-4.800 6.500-8.300 6.500-11.200a6.500 6.500 0 0 0-13 0C5.500 12.700 7.500 16.200 12 21z"/><circle cx="12" cy="9.800" r="2.300"/>',
    "pen": '<path d="m4 20 1-4.500L16.500 4 20 7.500 8.500 19zM14 6.500l3.500 3.500"/>',
    "machine": '<path d="M4 8h11v11H4zM7 11.500h5M7 15h2M15 12h2.500c1.500 0 2-.8 2-2V6.500"/><circle cx="19.500" cy="4.500" r="2"/>',
    "sign-out": '<path d="M10 4H5v16h5M10 12h10M16 8l4 4-4 4"/>',
    "barn": '<path d="M3 11 12 4l9 7M5 9.500V20h14V9.500M9 20v-7h6v7M9 13l6 7M15 13l-6 7"/>',
}


def icon(name: str, label: str = "") -> SafeString:
    """The icon as inline SVG, hidden from screen readers unless `label` says what it means alone."""
    shape = mark_safe(ICONS[name])
    if label:
        return format_html('<svg class="icon" viewBox="0 0 24 24" role="img" aria-label="{}">{}</svg>', label, shape)
    return format_html('<svg class="icon" viewBox="0 0 24 24" aria-hidden="true" focusable="false">{}</svg>', shape)
