"""What work costs and why: a proposal that waits for a person, and all that those of one day follow from."""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from fractions import Fraction

from billing.invoices.hires import HireDue
from billing.invoices.models import Charge
from billing.money.words import say_amount
from billing.packages.coverage import Coverage, Covered
from billing.packages.sold import Deduction, PackageSold, PlanMonth
from billing.prices.queries import PriceBook
from billing.quotes.models import AgreedHire, AgreedPlan
from billing.vouchers.models import Voucher
from clients.animals.facts import PayerShare
from clients.animals.models import Animal
from clients.animals.shares import say_share
from clients.people.models import Person
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
    voucher: Voucher | None = None
    plan_month: PlanMonth | None = None
    hire: AgreedHire | None = None
    deduction: Deduction | None = None
    covered: Covered | None = None
    tax_category: str = STANDARD
    missing: str = ""

    @property
    def key(self) -> str:
        """Names the proposal in forms and addresses: what it is for, and which one."""
        if self.plan_month is not None:
            return f"{self.kind}-{self.plan_month.run_id}-{self.plan_month.first:%Y%m%d}"
        if self.hire is not None:
            return f"{self.kind}-hire-{self.hire.pk}"
        subject = self.session or self.visit or self.sold or self.voucher or self.deduction
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
    """All that the charges of one day follow from. `visits` holds every finished visit, charged or not, and `collected`
    every hire that ends; `coverage` is shared by the days, so that what one day uses is gone for the next. `hires` are
    those that visits belong to. What is due, sold, begun or asked for as a deposit is not charged yet; the last two say
    why some of it waits."""

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
    hires: Mapping[int, AgreedHire] = field(default_factory=dict)
    collected: Sequence[AgreedHire] = ()
    charged_collections: Mapping[int, Decimal] = field(default_factory=dict)
    hires_due: Sequence[HireDue] = ()
    sold: Sequence[PackageSold] = ()
    vouchers: Sequence[Voucher] = ()
    plan_months: Sequence[PlanMonth] = ()
    deposits: Sequence[Deduction] = ()
    held_quotes: Mapping[int, str] = field(default_factory=dict)
    not_handed_out: Mapping[int, str] = field(default_factory=dict)

    def payers_of(self, animal_pk: int) -> tuple[PayerShare, ...]:
        return tuple(self.payers.get(animal_pk, ()))

    def animals_of(self, visit: Visit) -> tuple[Animal, ...]:
        """The horse, or all that share the hired machine that the visit is for."""
        hire = self.hires.get(visit.pk)
        return tuple(hire.animals) if hire else (visit.animal,)

    def payers_for(self, visit: Visit) -> tuple[PayerShare, ...]:
        hire = self.hires.get(visit.pk)
        return self.payers_of_hire(hire) if hire else self.payers_of(visit.animal_id)

    def payers_of_hire(self, hire: AgreedHire) -> tuple[PayerShare, ...]:
        """Each once, split like a call-out: equally by horse, or first by owner. Nobody while a horse has no owner."""
        shares: dict[tuple[Person, Person], Fraction] = {}
        owners = [self.owner_of(animal) for animal in hire.animals]
        horses = Counter(owners)
        for animal, owner in zip(hire.animals, owners, strict=True):
            by_owner = hire.split == AgreedHire.Split.OWNER
            weight = Fraction(1, len(horses) * horses[owner]) if by_owner else Fraction(1, len(owners))
            for payer in self.payers_of(animal.pk):
                key = (payer.payer, payer.owner)
                shares[key] = shares.get(key, Fraction(0)) + weight * payer.share
        whole = sum(shares.values(), Fraction(0)) == 1
        return tuple(PayerShare(payer, owner, share) for (payer, owner), share in shares.items()) if whole else ()

    def owner_of(self, animal: Animal) -> str:
        """Co-owners of one horse are one owner of a stop; a horse without owners stands by itself."""
        owners = [str(share.owner.pk) for share in self.payers_of(animal.pk)]
        return "+".join(owners) or f"horse {animal.pk}"

    def asked_about(self, animals: Sequence[Animal]) -> Animal:
        """The horse that a shared charge names: one whose owner is missing, else the first."""
        return next((animal for animal in animals if not self.payers_of(animal.pk)), animals[0])

    def agreed_for(self, visit: Visit) -> AgreedPlan | AgreedHire | None:
        if visit.pk in self.hires:
            return self.hires[visit.pk]
        return self.agreed.get(visit.plan_id) if visit.plan_id is not None else None

    def say(self, amount: Decimal) -> str:
        return say_amount(amount, self.currency)


def say_horses(animals: Sequence[Animal]) -> str:
    """“Tinker's Rest, Bramble and Maple Row”."""
    *others, last = map(str, animals)
    return f"{', '.join(others)} and {last}" if others else last
