"""Bank holidays of a country, or of a part of it, by its ISO 3166 code: `GB-ENG`, `IE`."""

from datetime import date
from functools import cache


@cache
def bank_holidays(code: str, year: int) -> frozenset[date]:
    """The bank holidays of one year, days in lieu included.

    Raises:
        KeyError: No country has that code, or it has no such part.
    """
    import holidays

    country, _, part = code.partition("-")
    try:
        return frozenset(holidays.country_holidays(country, subdiv=part or None, years=year))
    except NotImplementedError as error:
        raise KeyError(code) from error


def parts_of(code: str) -> tuple[str, ...]:
    """The codes of the parts of a country whose holidays differ, such as `GB-ENG`."""
    import holidays

    country = code.partition("-")[0]
    return tuple(
        f"{country}-{part}" for part in holidays.list_supported_countries().get(country, ())
    )
