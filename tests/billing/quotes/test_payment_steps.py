from datetime import date
from decimal import Decimal

from billing.quotes.payment_steps import PaymentStep, steps_of
from billing.quotes.payments import Payment

MONDAY, NEXT = date(2026, 3, 2), date(2026, 3, 9)
FIFTY, NINETY = Decimal(50), Decimal(90)


def test_alike_payments_are_said_once_and_add_up():
    payments = (
        Payment(None, "Booking deposit", FIFTY),
        Payment(MONDAY, "Visit", NINETY),
        Payment(MONDAY, "Package", FIFTY),
        Payment(NEXT, "Visit", NINETY),
    )
    steps = steps_of(payments)
    assert steps == (
        PaymentStep("Booking deposit", FIFTY, (), 1),
        PaymentStep("Visit", NINETY, (MONDAY, NEXT), 2),
        PaymentStep("Package", FIFTY, (MONDAY,), 1),
    )
    assert sum(step.amount for step in steps) == sum(payment.amount for payment in payments)
    assert (steps[0].first, steps[1].first, steps[1].last) == (None, MONDAY, NEXT)


def test_nothing_to_pay_has_no_step():
    assert steps_of(()) == ()
