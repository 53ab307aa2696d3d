"""The places on the body in the order in which they are worked. Common practice, no published source."""

from dataclasses import dataclass

USUAL_MINUTES = 3
NOT_TELLING = frozenset({"near", "off", "left", "right", "lower", "upper", "both", "side", "and", "the", "of"})


@dataclass(frozen=True, slots=True)
class Area:
    """`is_offered` is False for a place that is only worked when the horse accepts it."""

    name: str
    group: str
    is_offered: bool = True


FULL_BODY = (
    Area("Neck base", "Forehand"),
    Area("Shoulders", "Forehand"),
    Area("Withers", "Forehand"),
    Area("Girth", "Forehand"),
    Area("Head and poll", "Head, only if the horse accepts it", is_offered=False),
    Area("Back, both sides", "Back"),
    Area("Loins", "Back"),
    Area("Croup", "Croup and hind limb"),
    Area("Hips", "Croup and hind limb"),
    Area("Stifles", "Croup and hind limb"),
    Area("Hocks", "Croup and hind limb"),
    Area("Knees", "Lower legs last"),
    Area("Fetlocks and pasterns", "Lower legs last"),
)


def names_same_place(area: str, other: str) -> bool:
    """Whether two names share a telling word: "Near hock" and "Hocks" do, "Near hock" and "Near shoulder" do not."""
    return bool(_telling_words(area) & _telling_words(other))


def _telling_words(name: str) -> frozenset[str]:
    words = name.casefold().replace(",", " ").replace("(", " ").replace(")", " ").split()
    return frozenset(word.rstrip("s") for word in words) - NOT_TELLING
