"""Money in whole minor units of its currency, rounded half up in one function."""

from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

# ISO 4217: the active currencies.
_ACTIVE = """
AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BGN BHD BIF BMD BND BOB BRL BSD BTN BWP BYN BZD CAD CDF
CHF CLF CLP CNY COP CRC CUP CVE CZK DJF DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GNF GTQ
GYD HKD HNL HTG HUF IDR ILS INR IQD IRR ISK JMD JOD JPY KES KGS KHR KMF KPW KRW KWD KYD KZT LAK LBP LKR
LRD LSL LYD MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD OMR PAB PEN
PGK PHP PKR PLN PYG QAR RON RSD RUB RWF SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB
TJS TMT TND TOP TRY TTD TWD TZS UAH UGX USD UYI UYU UYW UZS VED VES VND VUV WST XAF XCD XCG XOF XPF YER
ZAR ZMW ZWG
"""
CURRENCIES = frozenset(_ACTIVE.split())
# ISO 4217: how many decimals, where it is not two.
_DECIMALS = {
    0: "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF",
    3: "BHD IQD JOD KWD LYD OMR TND",
    4: "CLF UYW",
}
MINOR_DIGITS = {code: digits for digits, codes in _DECIMALS.items() for code in codes.split()}


def minor_digits(currency: str) -> int:
    """How many decimals an amount in `currency` has (ISO 4217); raises ValueError for a code that is not one."""
    if currency not in CURRENCIES:
        raise ValueError(f"{currency} is not an ISO 4217 currency")
    return MINOR_DIGITS.get(currency, 2)


def round_money(amount: Decimal | Fraction, currency: str) -> Decimal:
    """`amount` in whole minor units of `currency`, half up; a negative amount mirrors the positive one.

    Sources of the rule: EN 16931 BR-CO-17 examples, HMRC VATREC12030, SSUTA §324 (third decimal above 4 goes up).
    """
    digits = minor_digits(currency)
    if isinstance(amount, Decimal):
        return amount.quantize(Decimal(1).scaleb(-digits), rounding=ROUND_HALF_UP)
    doubled = 2 * abs(amount.numerator) * 10**digits
    units = (doubled + amount.denominator) // (2 * amount.denominator)
    return from_units(units if amount >= 0 else -units, currency)


def to_units(amount: Decimal, currency: str) -> int:
    """`amount` as a whole number of minor units; raises ValueError if it is not whole."""
    units = amount.scaleb(minor_digits(currency))
    if units != units.to_integral_value():
        raise ValueError(f"{amount} is not a whole amount of {currency}")
    return int(units)


def from_units(units: int, currency: str) -> Decimal:
    """The amount of a whole number of minor units, with all decimals of the currency."""
    return Decimal(units).scaleb(-minor_digits(currency))
