"""The demo's business: its accounts, services, prices, machines, guidelines and wordings."""

from decimal import Decimal

from backoffice.access.models import User
from backoffice.access.powers import Role
from backoffice.business.models import Business
from backoffice.demo.scenario import Made, Scenario
from backoffice.office.actions import set_up
from backoffice.team.actions import add_account
from billing.packages.models import MonthlyPart, MonthlyPlan, Package, PackagePart
from billing.prices.actions import record_rate, save_price_list
from billing.prices.models import Break, CallOutRule, HireRate, Price, PriceList
from billing.prices.rules import CostRates, FeeRule, MileageRate, MoneyRules
from clients.kit.actions import note_inspection, put_fault_right, report_fault
from clients.kit.models import Applicator, Inspection, Machine
from clients.paperwork.actions import add_starter_wordings, record_law
from clients.plans.actions import add_starter_guidelines
from clients.plans.models import Service

OPENED = -400  # days ago; prices and laws are older than all work


def build_business(scenario: Scenario, made: Made) -> None:
    values = {key: value for key, value in scenario.story["business"].items() if hasattr(Business, key)}
    first, *others = (dict(account) for account in scenario.story["accounts"])
    password, at = scenario.story["password"], scenario.at(OPENED, 8)
    made.users[first["username"]] = set_up(
        business=Business(**values), owner_manager=_account(first), password=password, at=at
    )
    for values in others:
        made.users[values["username"]] = add_account(
            account=_account(values), password=password, at=at, by=made.manager
        )
    add_starter_guidelines(at=at, by=made.manager)
    add_starter_wordings(at=at, by=made.manager)
    for uses_machine in (True, False):
        record_law(
            place=scenario.story["business"]["place_of_law"],
            uses_machine=uses_machine,
            rule="free",
            source="Invented for the demo: ask your own licensing board.",
            at=at,
            by=made.manager,
        )


def _account(values: dict[str, object]) -> User:
    return User(**{**values, "role": Role(str(values["role"]))})


def build_prices(scenario: Scenario, made: Made) -> None:
    at, by, since = scenario.at(OPENED, 9), made.manager, scenario.day(OPENED)
    standard = save_price_list(price_list=PriceList(name="Standard", is_default=True), at=at, by=by)
    charity = save_price_list(price_list=PriceList(name="Charity"), at=at, by=by)
    for row in scenario.story["services"]:
        service = Service.objects.create(
            name=row["name"], kind=row["kind"], minutes=row["minutes"], uses_machine=row["uses_machine"]
        )
        made.services[row["id"]] = service
        breaks = [Break(count=count, amount=Decimal(amount)) for count, amount in row["breaks"]]
        for price_list, amount, tiers in ((standard, row["price"], breaks), (charity, row["charity"], [])):
            price = Price(price_list=price_list, service=service, amount=Decimal(amount), since=since)
            record_rate(rate=price, at=at, by=by, rows=tiers)
    for row in scenario.story["call_outs"]:
        record_rate(rate=CallOutRule(**{**row, "amount": Decimal(row["amount"])}, since=since), at=at, by=by)
    hire = {key: Decimal(value) for key, value in scenario.story["hire_rate"].items()}
    record_rate(rate=HireRate(**hire, since=since), at=at, by=by)
    story = scenario.story
    costs = story["cost_rates"]
    rates = CostRates(
        vehicle_per_mile=Decimal(costs["vehicle_per_mile"]),
        admin_minutes_per_visit=costs["admin_minutes_per_visit"],
        hourly_target=Decimal(costs["hourly_target"]),
        since=since,
    )
    record_rate(rate=rates, at=at, by=by)
    driving = story["mileage_rate"]
    rate = MileageRate(amount=Decimal(driving["amount"]), source=driving["source"], since=since)
    record_rate(rate=rate, at=at, by=by)
    rules = {key: Decimal(value) if value[0].isdigit() else value for key, value in story["money_rules"].items()}
    record_rate(rate=MoneyRules(**rules, since=since), at=at, by=by)
    fees = {cause: Decimal(percent) for cause, percent in story["fee_rule"].items()}
    record_rate(rate=FeeRule(**fees, since=since), at=at, by=by)


def build_offers(scenario: Scenario, made: Made) -> None:
    at, by, since = scenario.at(OPENED, 9), made.manager, scenario.day(OPENED)
    for row in scenario.story["packages"]:
        package = Package(name=row["name"], price=Decimal(row["price"]), valid_days=row["days"], since=since)
        parts = [PackagePart(service=made.services[service], count=count) for service, count in row["parts"]]
        record_rate(rate=package, rows=parts, at=at, by=by)
    for row in scenario.story["monthly_plans"]:
        plan = MonthlyPlan(name=row["name"], price=Decimal(row["price"]), since=since)
        lines = [
            MonthlyPart(service=made.services[service], count=count, beyond=Decimal(beyond))
            for service, count, beyond in row["parts"]
        ]
        record_rate(rate=plan, rows=lines, at=at, by=by)


def build_kit(scenario: Scenario, made: Made) -> None:
    for row in scenario.story["machines"]:
        made.machines[row["id"]] = Machine.objects.create(
            name=row["name"], serial_number=row["serial_number"], inspection_due=scenario.day(row["inspection_in"])
        )
    for row in scenario.story["inspections"]:
        inspection = Inspection(
            machine=made.machines[row["machine"]],
            kind=row["kind"],
            done_on=scenario.day(row["done"]),
            due_on=scenario.day(row["due"]),
            done_by=row["by"],
            note=row["note"],
        )
        note_inspection(inspection=inspection, at=scenario.now, by=made.manager)
    wrong = scenario.story["fault"]
    at = scenario.at(wrong["day"], 18)
    fault = report_fault(
        machine=made.machines[wrong["machine"]], seen=wrong["seen"], takes_out_of_use=True, at=at, by=made.manager
    )
    put_fault_right(fault=fault, how=wrong["put_right"], at=scenario.at(wrong["day"] + 1, 9), by=made.manager)
    made.applicators = [
        Applicator.objects.create(name=name, width_cm=width) for name, width in scenario.story["applicators"]
    ]
    for machine in made.machines.values():
        machine.applicators.set(made.applicators[:2])
