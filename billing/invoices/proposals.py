"""What work costs and why: a proposal that waits for a person, and all that those of one day follow from."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from billing.invoices.models import Charge
from billing.money.words import plain
from billing.packages.coverage import Coverage, Covered
from billing.packages.sold import Deduction, PackageSold, PlanMonth
from billing.prices.queries import PriceBook
from billing.quotes.models import AgreedPlan
from clients.animals.facts import PayerShare
from clients.animals.models import Animal
from clients.animals.shares import say_share
from clients.visits.models import Session, Visit

STANDARD = "standard"


@dataclass(frozen=True, slots=True)
class Proposal:
    """A charge that waits for a person. `missing` says what stands in its way; without a price, `amount` is None.

    With `covered`, a package or a plan month pays for the session, and confirming counts it there.
    """

    kind: Charge.Kind
    day: date
    text: str
    amount: Decimal | None
    reason: str
    payers: tuple[PayerShare, ...]
    animal: Animal | None = None
    visit: Visit | None = None
    session: Session | None = None
    sold: PackageSold | None = None
    plan_month: PlanMonth | None = None
    deduction: Deduction | None = None
    covered: Covered | None = None
    tax_category: str = STANDARD
    missing: str = ""

    @property
    def key(self) -> str:
        """Names the proposal in forms and addresses: what it is for, and which one."""
        if self.plan_month is not None:
            return f"{self.kind}-{self.plan_month.run_id}-{self.plan_month.first:%Y%m%d}"
        subject = self.session or self.visit or self.sold or self.deduction
        return f"{self.kind}-{subject.pk if subject else 0}"

    @property
    def who(self) -> str:
        """Who is asked for it, with the shares of several: “Delphine 50 %, Corin 50 %”."""
        if len(self.payers) == 1:
            return self.payers[0].payer.name
        return ", ".join(f"{share.payer} {say_share(share.share)}" for share in self.payers)

    @property
    def place(self) -> str:
        return self.visit.barn.name if self.visit else ""


@dataclass(frozen=True, slots=True)
class DayOfWork:
    """All that the charges of one day follow from. `visits` holds every finished visit, charged or not; `coverage` is
    shared by the days, so that what one day uses is gone for the next. The last three are not charged yet."""

    day: date
    visits: Sequence[Visit]
    sessions: Mapping[int, Sequence[Session]]
    payers: Mapping[int, Sequence[PayerShare]]
    agreed: Mapping[int, AgreedPlan]
    book: PriceBook
    currency: str
    unit: str = "mi"
    distances: Mapping[int, Decimal | None] = field(default_factory=dict)
    coverage: Coverage = field(default_factory=Coverage)
    charged_sessions: Collection[int] = field(default_factory=frozenset)
    charged_call_outs: Mapping[int, Decimal] = field(default_factory=dict)
    charged_fees: Collection[int] = field(default_factory=frozenset)
    sold: Sequence[PackageSold] = ()
    plan_months: Sequence[PlanMonth] = ()
    deposits: Sequence[Deduction] = ()

    def payers_of(self, animal_pk: int) -> tuple[PayerShare, ...]:
        return tuple(self.payers.get(animal_pk, ()))

    def agreed_for(self, visit: Visit) -> AgreedPlan | None:
        return self.agreed.get(visit.plan_id) if visit.plan_id is not None else None

    def say(self, amount: Decimal) -> str:
        return plain(amount, self.currency)
