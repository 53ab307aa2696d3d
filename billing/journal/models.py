from django.conf import settings
from django.db import models

from billing.fields import money_field
from clients.people.models import Person


class Account(models.TextChoices):
    RECEIVABLE = "receivable", "Receivable"
    INCOME_SESSIONS = "income_sessions", "Income: sessions"
    INCOME_CALL_OUTS = "income_call_outs", "Income: call-outs"
    INCOME_HIRE = "income_hire", "Income: hire"
    INCOME_FEES = "income_fees", "Income: fees"
    PACKAGE_LIABILITY = "package_liability", "Packages and plans still owed"
    BOOKING_DEPOSITS = "booking_deposits", "Booking deposits held"
    VOUCHERS = "vouchers", "Gift vouchers still owed"
    TAX_PAYABLE = "tax_payable", "Tax payable"
    CASH = "cash", "Cash in hand"
    CHECKS = "checks", "Checks in hand"
    BANK = "bank", "Bank"
    CARD_CLEARING = "card_clearing", "Card clearing"
    CREDIT = "credit", "Credit on account"
    DEPOSITS_HELD = "deposits_held", "Security deposits held"
    TIPS = "tips", "Tips"
    EXPENSES = "expenses", "Expenses"
    CARD_FEES = "card_fees", "Card fees"
    BAD_DEBTS = "bad_debts", "Bad debts"
    MOTOR_EXPENSE = "motor_expense", "Motor expense"
    TAX_PAID = "tax_paid", "Tax paid to others"
    CAPITAL = "capital", "Owner’s capital"


class ClosedMonth(models.Model):
    """A month that takes no posting any more, nor does any before it."""

    first_day = models.DateField(unique=True)
    closed_at = models.DateTimeField()
    closed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-first_day"]

    def __str__(self) -> str:
        return f"{self.first_day:%B %Y}"


class LookedThrough(models.Model):
    """One row: no work of a day up to `day` waits to be charged, as found at `at`. No row: every day is looked at."""

    day = models.DateField()
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"looked through up to {self.day}"


class Transaction(models.Model):
    """One event in the books; its postings sum to zero and are never edited."""

    day = models.DateField()
    text = models.CharField(max_length=120)
    source = models.CharField(max_length=40)
    source_pk = models.PositiveBigIntegerField()

    class Meta:
        ordering = ["day", "pk"]
        indexes = [models.Index(fields=["source", "source_pk"], name="transaction_source")]

    def __str__(self) -> str:
        return f"{self.day} {self.text}"


class Posting(models.Model):
    """An amount on an account: positive is debit, negative is credit."""

    transaction = models.ForeignKey(Transaction, models.PROTECT, related_name="postings")
    account = models.CharField(max_length=20, choices=Account)
    payer = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    amount = money_field()

    class Meta:
        ordering = ["transaction", "pk"]
        indexes = [models.Index(fields=["account", "payer"], name="posting_account")]

    def __str__(self) -> str:
        return f"{self.account} {self.amount}"
