"""What is still missing in a record, said kindly; an empty list when it is complete."""

from collections.abc import Sequence

from clients.people.models import Barn, BarnWindow, Person, VetPractice


def missing_of_person(person: Person) -> list[str]:
    gaps = [
        (not person.phone, "No phone number yet."),
        (not person.email, "No email yet: forms and quotes cannot be sent."),
        (not person.address, "No address yet: invoices need one."),
        (person.under_age and person.guardian_id is None, "Too young to sign, and no parent or guardian named yet."),
    ]
    return [sentence for is_missing, sentence in gaps if is_missing]


def missing_of_barn(barn: Barn, windows: Sequence[BarnWindow]) -> list[str]:
    gaps = [
        (not barn.is_placed, "Not on the map yet: rounds leave it out."),
        (not windows, "No times yet: rounds take any hour of the day."),
        (barn.power == Barn.Answer.UNKNOWN, "Power not asked yet."),
        (barn.signal == Barn.Signal.UNKNOWN, "Phone signal not asked yet."),
        (barn.contact_id is None and not barn.phone, "Nobody to ring there yet."),
    ]
    return [sentence for is_missing, sentence in gaps if is_missing]


def missing_of_practice(practice: VetPractice) -> list[str]:
    gaps = [
        (not practice.phone, "No phone number yet: “stop and call the vet” needs one."),
        (not practice.email, "No email yet: a request for a referral cannot be sent."),
    ]
    return [sentence for is_missing, sentence in gaps if is_missing]
