"""Days on which the workshop is closed: public holidays of its country and region, and days it sets itself.

The holidays come from the library `holidays` (https://pypi.org/project/holidays/), which knows the law of each country
by year; a country or region that it does not know is refused with those it does.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from fleetcare.errors import BadInput, shown
from fleetcare.language import saying


@dataclass(frozen=True, slots=True)
class DaysOff:
    """country, region: codes of ISO 3166 (`DE`, `BY`), empty for none. also: closed besides, with why. open_on: open
    although it is a holiday. Raises BadInput for a country or region that is not known.
    """

    country: str = ""
    region: str = ""
    also: tuple[tuple[date, str], ...] = ()
    open_on: tuple[date, ...] = ()

    def __post_init__(self) -> None:
        if self.region and not self.country:
            raise BadInput(
                "A region without its country.", remedy='Give the country too, such as "DE".', field="country"
            )
        if self.country:
            self._known()

    def between(self, first: date, last: date) -> Mapping[date, str]:
        """The closed days from the first to the last, with what they are called."""
        found: dict[date, str] = {}
        if self.country:
            from holidays import country_holidays

            years = range(first.year, last.year + 1)
            public = country_holidays(self.country, subdiv=self.region or None, years=years)
            found = {day: str(name) for day, name in public.items() if first <= day <= last}
        found |= {day: why for day, why in self.also if first <= day <= last}
        return {day: found[day] for day in sorted(found) if day not in self.open_on}

    def _known(self) -> None:
        from holidays import list_supported_countries

        regions = list_supported_countries(include_aliases=True).get(self.country)
        if regions is None:
            raise BadInput(
                saying("{country} is no country whose holidays are known.", country=shown(self.country)),
                remedy='Write its two letters of ISO 3166, such as "US" or "DE".',
                field="country",
            )
        if self.region and self.region not in regions:
            some = ", ".join(sorted(map(str, regions))[:8]) or "none"
            raise BadInput(
                saying(
                    "{region} is no region of {country} whose holidays are known.",
                    region=shown(self.region),
                    country=self.country,
                ),
                remedy=saying("Write one of them, such as {some}.", some=some),
                field="region",
            )
