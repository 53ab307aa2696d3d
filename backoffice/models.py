"""An index for Django only; code imports the feature's own models."""

from backoffice.access.models import User
from backoffice.audit.models import Entry, Head
from backoffice.business.models import Business
from backoffice.documents.models import Document, SealKey
from backoffice.keeping.models import Erasure, KeepRule
from backoffice.later.models import Job
from backoffice.letters.models import Letter
from backoffice.links.models import PrivateLink, WrongTry
from backoffice.lists.models import BroughtList
from backoffice.team.models import CodeApp, Passkey, RecoveryCode, SignedIn
from backoffice.upkeep.models import BackupNote

__all__ = [
    "BackupNote",
    "BroughtList",
    "Business",
    "CodeApp",
    "Document",
    "Entry",
    "Erasure",
    "Head",
    "Job",
    "KeepRule",
    "Letter",
    "Passkey",
    "PrivateLink",
    "RecoveryCode",
    "SealKey",
    "SignedIn",
    "User",
    "WrongTry",
]
