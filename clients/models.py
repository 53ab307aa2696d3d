"""An index for Django only; code imports the feature's own models."""

from clients.animals.models import Animal, Caution, HealthFact, Measure, Ownership, Role, Stay
from clients.barnside.models import BarnEvent, HandMoney, Phone
from clients.incidents.models import Addition, Incident
from clients.kit.models import Applicator, Fault, Hire, Inspection, Machine
from clients.miles.models import Trip
from clients.paperwork.models import (
    Decision,
    Form,
    PlaceLaw,
    Signature,
    StopNote,
    VetReferral,
    Wording,
    WordingVersion,
)
from clients.paperwork.own_models import OwnPaper
from clients.people.models import Barn, BarnWindow, Person, PersonKey, VetPractice
from clients.plans.models import Guideline, GuidelinePhase, GuidelineVersion, Plan, PlanPhase, Service
from clients.records.models import HistoryFile
from clients.rounds.models import DayRound, FailedDay, FreedVisit, PlanningRun, ProposedMove, RoundStop
from clients.visits.models import ArrivalLook, EarlierWork, Session, SessionArea, StopList, Told, Visit, VisitPhoto
from clients.workdays.models import Absence, WorkingHours

__all__ = [
    "Absence",
    "Addition",
    "Animal",
    "Applicator",
    "ArrivalLook",
    "Barn",
    "BarnEvent",
    "BarnWindow",
    "Caution",
    "DayRound",
    "Decision",
    "EarlierWork",
    "FailedDay",
    "Fault",
    "Form",
    "FreedVisit",
    "Guideline",
    "GuidelinePhase",
    "GuidelineVersion",
    "HandMoney",
    "HealthFact",
    "Hire",
    "HistoryFile",
    "Incident",
    "Inspection",
    "Machine",
    "Measure",
    "OwnPaper",
    "Ownership",
    "Person",
    "PersonKey",
    "Phone",
    "PlaceLaw",
    "Plan",
    "PlanPhase",
    "PlanningRun",
    "ProposedMove",
    "Role",
    "RoundStop",
    "Service",
    "Session",
    "SessionArea",
    "Signature",
    "Stay",
    "StopList",
    "StopNote",
    "Told",
    "Trip",
    "VetPractice",
    "VetReferral",
    "Visit",
    "VisitPhoto",
    "Wording",
    "WordingVersion",
    "WorkingHours",
]
