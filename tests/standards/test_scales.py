"""Scales on which a horse is measured: the published bounds and the published formula. None of them is scored by us."""

from decimal import Decimal

import pytest

from clients.animals.scales import EASE, SCALES, to_cm, to_pounds, weight_by_tape


# Carroll and Huntington, Equine Veterinary Journal 20(1), 1988: girth² × length ÷ 11,900 in cm; 185 and 165 give 474.5.
def test_weight_by_tape_is_the_published_formula():
    assert weight_by_tape(Decimal(185), Decimal(165)) == Decimal("474.5")


# The variant with 11,880 in common use gives 475.3 kg for the same horse: the two differ by less than a fifth of 1 %.
def test_the_common_variant_of_the_divisor_is_near():
    variant = Decimal(185) ** 2 * Decimal(165) / Decimal(11_880)
    assert round(variant, 1) == Decimal("475.3")
    assert abs(variant - weight_by_tape(Decimal(185), Decimal(165))) / variant < Decimal("0.002")


# Henneke and others, Equine Veterinary Journal 15(4), 1983: 1 poor, 5 moderate, 9 extremely fat.
# AAEP lameness scale: 0 to 5, the vet's. Horse Grimace Scale: six units of 0 to 2, 12 in all, PLoS ONE 9(3): e92281.
@pytest.mark.parametrize(("scale", "low", "high"), [("condition", 1, 9), ("lameness", 0, 5), ("grimace", 0, 6 * 2)])
def test_published_scales_have_their_published_ends(scale, low, high):
    assert (SCALES[scale].low, SCALES[scale].high) == (low, high)
    assert (SCALES[scale].marks[0], SCALES[scale].marks[-1]) == (low, high)
    assert not SCALES[scale].fault(Decimal(low))
    assert not SCALES[scale].fault(Decimal(high))
    assert SCALES[scale].fault(Decimal(low) - 1)
    assert SCALES[scale].fault(Decimal(high) + 1)


def test_a_lameness_grade_is_the_vets_and_a_grimace_score_the_scorers():
    assert SCALES["lameness"].whose == "the vet"
    assert SCALES["grimace"].whose == "whoever scored it"


# Common practice, no published source: ease is the practitioner's own scale of 0 to 10.
def test_ease_is_the_practitioners_own_scale_and_is_called_so():
    assert (EASE.low, EASE.high) == (0, 10)
    assert "own scale" in EASE.source


# NIST SP 811, appendix B: 1 inch is 2.54 cm exactly; 1 pound is 0.453 592 37 kg exactly.
def test_inches_and_pounds_are_the_defined_ones():
    assert to_cm(Decimal(10)) == Decimal("25.4")
    assert to_pounds(Decimal("45359.237")) == 100_000
