from dataclasses import dataclass
from datetime import date

from backoffice.keeping.kinds import KINDS, Kind
from backoffice.keeping.models import KeepRule
from backoffice.keeping.rules import Rule


@dataclass(frozen=True, slots=True)
class KindRule:
    """One row of the table: the kind, its rule of the day, and the dated rows of the practitioner, newest first."""

    kind: Kind
    rule: Rule
    own: list[KeepRule]

    @property
    def is_starting(self) -> bool:
        """Nobody has looked at it yet: the period is the one that the program came with."""
        return not self.own


def keep_table(on: date) -> list[KindRule]:
    """Every kind with its rule on a day; one query."""
    rows: dict[str, list[KeepRule]] = {kind.name: [] for kind in KINDS}
    for row in KeepRule.objects.order_by("-since"):
        rows[row.kind].append(row)
    return [KindRule(kind, _rule_on(kind, rows[kind.name], on), rows[kind.name]) for kind in KINDS]


def _rule_on(kind: Kind, own: list[KeepRule], on: date) -> Rule:
    row = next((row for row in own if row.since <= on), None)
    return Rule(row.years, row.why) if row else Rule(kind.years, kind.why)


def rules_on(day: date) -> dict[str, Rule]:
    return {row.kind.name: row.rule for row in keep_table(day)}
