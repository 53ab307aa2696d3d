"""Starting texts: plain, not legal advice, to be read by somebody who knows the law of the place before they are used.

No text promises an outcome, none says that a release protects, and no statutory warning is supplied: the practitioner
pastes such a text from their own source.
"""

import re
from typing import NamedTuple

from clients.paperwork.models import Wording


class Starter(NamedTuple):
    kind: str
    title: str
    valid_months: int
    text: str


CONSENT = """\
I am an owner of {horse}, or I act for the owners with their written authority.

I agree that {business} gives sessions to {horse}. Before each session the horse is looked over. When
something is seen that the vet should know first, the session does not start and I am told.

A session is for ease and maintenance. It is not veterinary care and does not replace it. No result is
promised.

I have answered the questions about illness, injury, medicines and being in foal as well as I know, and I will
say so before the next session when an answer changes.

I may take this consent back at any time, in writing or by telling {business}. It then no longer holds from
that day on."""

RELEASE = """\
This paper is about sessions for {horse} at {barn}.

I know that being near horses and working with them carries risk, to people, to the horse and to things, even
when everybody takes care.

I agree that {business} may work with {horse} at {barn}. I have told {business} what I know about how the
horse behaves when it is handled.

Nothing in this paper limits what the law of the place gives to anybody, and it takes away nobody's duty to
take care."""

PHOTOS = """\
I agree that {business} may show photos and short films of {horse} to others, without my name and without the
name of the barn.

Photos kept only for the record of the sessions need no permission and stay private.

I may take this permission back at any time. Photos are then no longer shown from that day on."""

AUTHORITY = """\
I am an owner of {horse}, and I let {agent} act for the owners with {business}.

{agent} may order and move sessions, and may sign the consent to sessions.

{agent} may order up to {cap} a month, tax included. Beyond that, the owners owe nothing until an owner has
agreed in writing.

I may take this authority back at any time, in writing or by telling {business}. It then no longer holds from
that day on."""

TERMS = """\
These are the terms between {signer} and {business}.

Prices are those of the quote that was accepted, or of the price list on the day of the session. A session is
invoiced after it was given, unless a package was paid for before.

A visit can be moved or cancelled without a fee until the day before. What a later change costs is written on
the price list, and no fee is charged for weather.

When the horse cannot be worked because of something seen on arrival, {business} says so and the vet is asked
first.

An invoice is due on the day printed on it. Write to {business} when something on it is not right; reminders
pause until it is answered."""


HIRE = """\
This is an agreement between {signer} and {business} on the hire of a machine for {horse}.

Which machine, from which day to which day, at what rent and with what deposit stands on the quote that was
accepted. {signer} brings the machine back, or has it collected, on the last day.

{business} shows how the machine is used before it is handed over. Only those who were shown it use it. The maker's
manual decides. The applicator is on before the power, and the power is off before the applicator is taken off. The
machine is kept out of heat, cold and wet, its cable is kept clear of hooves and water, and phones, keys and cards are
kept 18 in (46 cm) away while it runs. Whoever carries an implanted device or is pregnant keeps away from it until its
maker and a doctor have advised.

It is not used on a horse with one of these, now or in question, until the horse's vet has agreed in writing: EPM, in
foal or covered since, dehydrated, systemic toxicity, possible internal bleeding, repair that the vet wants slow, fresh
injury or illness. A medicine is named to the vet first. When something is seen that the vet should know, it is
switched off and the vet is called.

{signer} says at once when the machine is damaged or does not work as it should, and stops using it. A session is for
ease and maintenance. It is not veterinary care, and no result is promised."""

PACKAGE = """\
These are the terms of a package or a monthly plan between {signer} and {business}.

What is in it, its price and its last day stand on the quote or the invoice. A session is taken from it when it was
given; {business} says on each invoice how many are left.

A session that could not be given because of something seen on arrival, or because of the weather, is not taken from
it. What a late change costs is written on the price list.

What is left when the horse is sold or dies, or when the vet wants no more sessions, stays with {signer}, who may have
the price of it back. A package does not pass to a new owner by itself."""

VET = """\
To the vet of {horse}.

The owner has asked {business} for sessions for {horse}, and agrees that you may answer this request.

The sessions are hands-on work or work with a pulsed-field machine, for ease and maintenance. They are not veterinary
care. {business} does not judge illness and leaves that to you.

Please answer whether sessions may be given, which services and which places on the body, from which day to which day,
for how many minutes at most, and on what conditions. An answer of no is followed. Without an answer nothing is
presumed."""


def _unwrapped(text: str) -> str:
    """Paragraphs as one line each; the lines above are broken for reading the code only."""
    return re.sub(r"(?<!\n)\n(?!\n)", " ", text)


STARTERS = (
    Starter(Wording.Kind.CONSENT, "Consent to sessions", 12, _unwrapped(CONSENT)),
    Starter(Wording.Kind.RELEASE, "Release for the place", 12, _unwrapped(RELEASE)),
    Starter(Wording.Kind.PHOTOS, "Photo permission", 24, _unwrapped(PHOTOS)),
    Starter(Wording.Kind.AUTHORITY, "Agent's authority", 12, _unwrapped(AUTHORITY)),
    Starter(Wording.Kind.TERMS, "Terms of business", 24, _unwrapped(TERMS)),
    Starter(Wording.Kind.HIRE, "Hire agreement", 12, _unwrapped(HIRE)),
    Starter(Wording.Kind.PACKAGE, "Package terms", 24, _unwrapped(PACKAGE)),
    Starter(Wording.Kind.VET, "Vet-referral request", 12, _unwrapped(VET)),
)
