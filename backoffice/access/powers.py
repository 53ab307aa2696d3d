"""Who may do what: the one readable table. A view names a power; a role has it or not."""

from enum import StrEnum


class Role(StrEnum):
    OWNER_MANAGER = "owner_manager"
    PRACTITIONER = "practitioner"
    ASSISTANT = "assistant"
    BOOKKEEPER = "bookkeeper"

    @property
    def label(self) -> str:
        return ROLE_LABELS[self]


ROLE_LABELS = {
    Role.OWNER_MANAGER: "Owner-manager",
    Role.PRACTITIONER: "Practitioner",
    Role.ASSISTANT: "Assistant",
    Role.BOOKKEEPER: "Bookkeeper",
}


class Power(StrEnum):
    SEE_CARE = "see_care"  # people, horses, diary, rounds, paperwork
    SEE_HEALTH = "see_health"  # health facts, visit notes, vet letters
    CHANGE_CARE = "change_care"  # write down people, horses, visits, forms
    OVERRIDE_ASK = "override_ask"  # go on after "ask", with a reason
    SEE_MONEY = "see_money"  # quotes, charges, invoices, payments
    CHANGE_MONEY = "change_money"  # offer, confirm, issue, take payments
    SEE_MARGINS = "see_margins"  # drive cost, earned per hour
    CHANGE_SETTINGS = "change_settings"  # business, prices, wordings, guidelines, accounts


POWER_WORDS = {
    Power.SEE_CARE: "See people, horses, diary, rounds and paperwork",
    Power.SEE_HEALTH: "See health questions, visit notes and vets’ letters",
    Power.CHANGE_CARE: "Write down people, horses, visits and forms",
    Power.OVERRIDE_ASK: "Go on where permission says ask, with a reason",
    Power.SEE_MONEY: "See quotes, charges, invoices and payments",
    Power.CHANGE_MONEY: "Quote, charge, invoice and take payments",
    Power.SEE_MARGINS: "See what an hour earns, and what driving costs",
    Power.CHANGE_SETTINGS: "Change the business, prices, wordings, accounts; backups; the trail",
}
POWERS: dict[Role, frozenset[Power]] = {
    Role.OWNER_MANAGER: frozenset(Power),
    Role.PRACTITIONER: frozenset(
        {
            Power.SEE_CARE,
            Power.SEE_HEALTH,
            Power.CHANGE_CARE,
            Power.OVERRIDE_ASK,
            Power.SEE_MONEY,
            Power.CHANGE_MONEY,
        }
    ),
    Role.ASSISTANT: frozenset({Power.SEE_CARE, Power.SEE_HEALTH, Power.CHANGE_CARE}),
    Role.BOOKKEEPER: frozenset({Power.SEE_CARE, Power.SEE_MONEY, Power.CHANGE_MONEY}),
}
