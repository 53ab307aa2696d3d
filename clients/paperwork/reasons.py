"""What permission to work answers with: the result, each reason and each note, in sentences."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class Result(StrEnum):
    READY = "ready"
    ASK = "ask"
    HOLD = "hold"

    @property
    def label(self) -> str:
        return self.value.capitalize()


@dataclass(frozen=True, slots=True)
class Reason:
    """Why not ready: the sentence to show, what clears it, and who may."""

    result: Result
    code: str
    sentence: str
    clears: str
    who: str

    def __str__(self) -> str:
        return self.sentence


@dataclass(frozen=True, slots=True)
class Note:
    """Shown beside the answer; asks for nothing."""

    code: str
    sentence: str

    def __str__(self) -> str:
        return self.sentence


@dataclass(frozen=True, slots=True)
class Permission:
    result: Result
    reasons: tuple[Reason, ...] = ()
    notes: tuple[Note, ...] = ()

    @property
    def is_ready(self) -> bool:
        return self.result == Result.READY

    @property
    def is_hold(self) -> bool:
        return self.result == Result.HOLD

    @property
    def holds(self) -> tuple[Reason, ...]:
        return tuple(reason for reason in self.reasons if reason.result == Result.HOLD)

    @property
    def asks(self) -> tuple[Reason, ...]:
        return tuple(reason for reason in self.reasons if reason.result == Result.ASK)


def day_words(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b %Y}"


def hold(code: str, sentence: str, clears: str, who: str) -> Reason:
    return Reason(Result.HOLD, code, sentence, clears, who)


def ask(code: str, sentence: str, clears: str, who: str) -> Reason:
    return Reason(Result.ASK, code, sentence, clears, who)
