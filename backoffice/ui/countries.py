from functools import cache

from babel import Locale

NO_COUNTRY = {"EU", "EZ", "QO", "UN", "XA", "XB", "ZZ"}  # regions that the list of names has beside countries


@cache
def country_choices() -> list[tuple[str, str]]:
    """Countries by their ISO 3166-1 letters, in the order of their English names."""
    names = Locale("en", "US").territories
    found = {code: name for code, name in names.items() if len(code) == 2 and code.isalpha() and code not in NO_COUNTRY}
    return sorted(found.items(), key=lambda pair: pair[1])
