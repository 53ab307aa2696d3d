from clients.visits.actions.afterwards import amend_session, areas_of, record_work
from clients.visits.actions.booking import (
    book_new_visit,
    book_visit,
    cancel_visit,
    confirm_time,
    is_late,
    move_visit,
    pencil_visit,
)
from clients.visits.actions.calling import call_later, list_again
from clients.visits.actions.doing import (
    AreaDone,
    ArrivalSeen,
    SessionDone,
    complete_visit,
    could_not_work,
    set_next_visit,
    skip_next_visit,
    stop_for_the_vet,
)
from clients.visits.actions.earlier import note_earlier_work, strike_earlier_work
from clients.visits.actions.hiring import hire_out
from clients.visits.actions.leaving import note_death, note_sale, take_death_back
from clients.visits.actions.listing import note_list
from clients.visits.actions.picturing import add_photo
from clients.visits.actions.proposing import Booked, Left, book_all, move_plan_start, propose_visits
from clients.visits.actions.reporting import write_visit_report
from clients.visits.actions.telling import mark_told

__all__ = [
    "AreaDone",
    "ArrivalSeen",
    "Booked",
    "Left",
    "SessionDone",
    "add_photo",
    "amend_session",
    "areas_of",
    "book_all",
    "book_new_visit",
    "book_visit",
    "call_later",
    "cancel_visit",
    "complete_visit",
    "confirm_time",
    "could_not_work",
    "hire_out",
    "is_late",
    "list_again",
    "mark_told",
    "move_plan_start",
    "move_visit",
    "note_death",
    "note_earlier_work",
    "note_list",
    "note_sale",
    "pencil_visit",
    "propose_visits",
    "record_work",
    "set_next_visit",
    "skip_next_visit",
    "stop_for_the_vet",
    "strike_earlier_work",
    "take_death_back",
    "write_visit_report",
]
