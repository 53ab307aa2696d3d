import pytest
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    "password",
    [
        "Holt-Adair Horse Sessions",
        "holtadairhorsesessions",
        "HoltAdair_HorseSessions 2026!",
        "hello@holt-adair.example",
        "desk.holt-adair.example",
        "Horse Wellness Back Office",
        "backofficebackoffice",
    ],
)
def test_the_words_of_the_business_are_no_password(business, settings, password):
    settings.PUBLIC_ADDRESS = "https://desk.holt-adair.example"
    business.name, business.email = "Holt-Adair Horse Sessions", "hello@holt-adair.example"
    business.save()
    with pytest.raises(ValidationError, match="would guess this"):
        validate_password(password)


@pytest.mark.parametrize(
    "password", ["a quiet barn at dawn", "the mare of Holt-Adair Horse Sessions", "7" * 15 + "x" * 9]
)
def test_a_sentence_of_ones_own_may_hold_them(business, password):
    validate_password(password)


def test_before_the_business_has_a_name_nothing_is_refused_for_it(db):
    validate_password("a quiet mare in the rain")
