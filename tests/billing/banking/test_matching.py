"""What a line of the bank may be, and why; nothing is sure without a reference and the exact amount."""

from datetime import date
from decimal import Decimal

from billing.banking.lines import BankMove
from billing.banking.matching import Known, Ledger, OpenInvoice, Trust, matches, place_among_equals
from billing.money.reference import creditor_reference

DAY = date(2026, 3, 20)


def invoice(key: int, payer: int, payer_name: str, amount: str, due: int = 16) -> OpenInvoice:
    return OpenInvoice(key, f"2026-{key:04d}", payer, payer_name, Decimal(amount), date(2026, 3, due))


OTTILIE = [invoice(1, 7, "Ottilie Brackwater", "95.00"), invoice(2, 7, "Ottilie Brackwater", "60.00", 20)]
LEDGER = Ledger([*OTTILIE, invoice(3, 8, "José Núñez-Vale", "95.00"), invoice(4, 9, "Al", "12.00")])


def found(amount: str, text: str = "", name: str = "", reference: str = "", ledger: Ledger = LEDGER):
    return matches(BankMove(DAY, Decimal(amount), text, name, reference), ledger)


def first(*args, **more) -> tuple:
    best = found(*args, **more)[0]
    return best.trust, best.payer, dict(best.parts)


def test_a_number_and_exactly_what_is_open_is_sure():
    assert first("95.00", "thanks 2026-0001") == (Trust.SURE, 7, {1: Decimal("95.00")})


def test_a_reference_is_read_with_or_without_its_gaps():
    code = creditor_reference("2026-0001")
    printed = " ".join(code[start : start + 4] for start in range(0, len(code), 4))
    for told in (code, printed, f"Invoice {printed} March", code.lower()):
        assert first("95.00", told)[0] == Trust.SURE, told
    assert first("95.00", reference=code)[0] == Trust.SURE


def test_a_reference_with_a_wrong_digit_is_none():
    code = creditor_reference("2026-0001")
    wrong = code[:-1] + str((int(code[-1]) + 1) % 10)
    assert first("95.00", wrong)[0] != Trust.SURE


def test_two_numbers_of_one_payer_that_sum_up_are_sure():
    assert first("155.00", "2026-0001 2026-0002") == (Trust.SURE, 7, {1: Decimal("95.00"), 2: Decimal("60.00")})


def test_numbers_of_two_payers_prove_nothing():
    assert all(match.trust == Trust.POSSIBLE for match in found("190.00", "2026-0001 2026-0003"))


def test_another_amount_is_likely_and_goes_to_the_oldest_first():
    assert first("100.00", "2026-0001, 2026-0002") == (Trust.LIKELY, 7, {1: Decimal("95.00"), 2: Decimal("5.00")})
    best = found("200.00", "2026-0001")[0]
    assert "more than the 95.00 that is open" in best.reasons


def test_a_name_with_the_amount_is_likely_accents_or_not():
    assert first("95.00", name="JOSE NUNEZ VALE") == (Trust.LIKELY, 8, {3: Decimal("95.00")})
    assert first("155.00", name="Brackwater, Ottilie Mrs")[:2] == (Trust.LIKELY, 7)
    assert first("33.00", name="Ottilie Brackwater")[0] == Trust.POSSIBLE


def test_half_a_name_or_a_very_short_one_says_nothing():
    assert found("33.00", name="Brackwater") == []
    assert found("33.00", name="Al") == []


def test_the_amount_alone_is_only_possible_for_each_who_owes_it():
    trusted = [(match.trust, match.payer) for match in found("95.00", "rent")]
    assert trusted == [(Trust.POSSIBLE, 7), (Trust.POSSIBLE, 8)]


def test_what_is_in_the_books_already_is_said_before_it_is_booked_twice():
    known = Known("slip", 3, "Deposit slip 3", Decimal("200.00"), date(2026, 3, 18))
    ledger = Ledger(LEDGER.invoices, [known])
    assert found("200.00", ledger=ledger)[0].known == known
    late = Ledger(LEDGER.invoices, [Known("slip", 3, "Deposit slip 3", Decimal("200.00"), date(2026, 3, 1))])
    assert found("200.00", ledger=late) == []


def test_money_that_went_out_and_nothing_at_all_match_nothing():
    assert found("-95.00", "2026-0001") == found("0", "2026-0001") == []


def test_equals_of_one_day_are_told_apart_by_their_place():
    twice = [BankMove(DAY, Decimal("5.00"), "x"), BankMove(DAY, Decimal("5.0"), "x"), BankMove(DAY, Decimal("6"), "x")]
    keys = place_among_equals(twice, "acct")
    assert len(set(keys)) == 3
    assert place_among_equals(twice[:1], "acct") == keys[:1]
    assert place_among_equals(twice, "other") != keys
