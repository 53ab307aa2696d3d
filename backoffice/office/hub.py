"""The settings, in the order in which a new business needs them."""

from dataclasses import dataclass

from django.urls import NoReverseMatch, reverse


@dataclass(frozen=True, slots=True)
class Setting:
    name: str
    sentence: str
    url_name: str
    href: str = ""


GROUPS: tuple[tuple[str, tuple[Setting, ...]], ...] = (
    (
        "Business",
        (
            Setting("Business", "Name, address, paper, hours, periods.", "backoffice:business"),
            Setting("Team", "Who signs in, and what they may do.", "backoffice:team"),
            Setting("Trail", "Who changed what, and when.", "backoffice:trail"),
            Setting("Lists from elsewhere", "Barns, people, horses of your spreadsheet.", "backoffice:lists"),
            Setting("Letters", "What went out by mail, and what waits.", "backoffice:letters"),
            Setting("Backups", "What was kept safe, and tried.", "backoffice:backups"),
        ),
    ),
    (
        "Work",
        (
            Setting("Services", "What you do, and how long it takes.", "clients:services"),
            Setting("Guidelines", "How often sessions follow each other.", "clients:guidelines"),
            Setting("Machines", "Inspections and applicators.", "clients:machines"),
        ),
    ),
    (
        "Money",
        (
            Setting("Prices", "What each service costs, from which day.", "billing:prices"),
            Setting("Call-outs", "What coming to a barn costs, and who shares it.", "billing:call-outs"),
            Setting("Packages", "Several sessions prepaid at one price.", "billing:package-offers"),
            Setting("Monthly plans", "A price a month for one horse’s sessions.", "billing:plan-offers"),
            Setting("Deposit and rounding", "Booking deposit, and where tax is rounded.", "billing:money-rules"),
            Setting("Your first day", "What you bring along from your books of before.", "billing:starting"),
            Setting("Reminders", "What goes out when an invoice is late.", "billing:reminder-stages"),
            Setting("Tax", "Rates by category and date.", "billing:tax-rates"),
            Setting("Cost rates", "What a mile and an hour cost you.", "billing:cost-rates"),
        ),
    ),
    (
        "Paper",
        (
            Setting("Your own papers", "License, insurance, vehicle, first aid; when they end.", "clients:own-papers"),
            Setting("Wordings", "The texts that people sign.", "clients:wordings"),
            Setting("Laws", "What your state or country asks for.", "clients:laws"),
            Setting("Keep or erase", "How long each kind of record is kept, and why.", "backoffice:keeping"),
        ),
    ),
)


def groups() -> list[tuple[str, list[Setting]]]:
    """The groups with the settings that this installation has, each with its address."""
    found = [(title, [_placed(setting) for setting in settings]) for title, settings in GROUPS]
    kept = [(title, [setting for setting in settings if setting.href]) for title, settings in found]
    return [(title, settings) for title, settings in kept if settings]


def _placed(setting: Setting) -> Setting:
    try:
        href = reverse(setting.url_name)
    except NoReverseMatch:  # the money side may not be installed
        href = ""
    return Setting(setting.name, setting.sentence, setting.url_name, href)
