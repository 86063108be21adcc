"""Provinces, territories and states, with the time zone most of their people live in.

Codes are those of ISO 3166-2. Where a region has several zones, the yard's page lets another be chosen.
"""

from __future__ import annotations

from typing import NamedTuple

from rickyard.text import T_, Text


class Region(NamedTuple):
    """A place with its own law of measures."""

    country: str
    subdivision: str
    name: Text
    timezone: str

    @property
    def code(self) -> str:
        return f"{self.country}-{self.subdivision}"


REGIONS: tuple[Region, ...] = (
    Region("CA", "AB", T_("Alberta"), "America/Edmonton"),
    Region("CA", "BC", T_("British Columbia"), "America/Vancouver"),
    Region("CA", "MB", T_("Manitoba"), "America/Winnipeg"),
    Region("CA", "NB", T_("New Brunswick"), "America/Moncton"),
    Region("CA", "NL", T_("Newfoundland and Labrador"), "America/St_Johns"),
    Region("CA", "NS", T_("Nova Scotia"), "America/Halifax"),
    Region("CA", "NT", T_("Northwest Territories"), "America/Edmonton"),
    Region("CA", "NU", T_("Nunavut"), "America/Iqaluit"),
    Region("CA", "ON", T_("Ontario"), "America/Toronto"),
    Region("CA", "PE", T_("Prince Edward Island"), "America/Halifax"),
    Region("CA", "QC", T_("Quebec"), "America/Toronto"),
    Region("CA", "SK", T_("Saskatchewan"), "America/Regina"),
    Region("CA", "YT", T_("Yukon"), "America/Whitehorse"),
    Region("US", "AL", T_("Alabama"), "America/Chicago"),
    Region("US", "AK", T_("Alaska"), "America/Anchorage"),
    Region("US", "AZ", T_("Arizona"), "America/Phoenix"),
    Region("US", "AR", T_("Arkansas"), "America/Chicago"),
    Region("US", "CA", T_("California"), "America/Los_Angeles"),
    Region("US", "CO", T_("Colorado"), "America/Denver"),
    Region("US", "CT", T_("Connecticut"), "America/New_York"),
    Region("US", "DE", T_("Delaware"), "America/New_York"),
    Region("US", "DC", T_("District of Columbia"), "America/New_York"),
    Region("US", "FL", T_("Florida"), "America/New_York"),
    Region("US", "GA", T_("Georgia"), "America/New_York"),
    Region("US", "HI", T_("Hawaii"), "Pacific/Honolulu"),
    Region("US", "ID", T_("Idaho"), "America/Boise"),
    Region("US", "IL", T_("Illinois"), "America/Chicago"),
    Region("US", "IN", T_("Indiana"), "America/Indiana/Indianapolis"),
    Region("US", "IA", T_("Iowa"), "America/Chicago"),
    Region("US", "KS", T_("Kansas"), "America/Chicago"),
    Region("US", "KY", T_("Kentucky"), "America/New_York"),
    Region("US", "LA", T_("Louisiana"), "America/Chicago"),
    Region("US", "ME", T_("Maine"), "America/New_York"),
    Region("US", "MD", T_("Maryland"), "America/New_York"),
    Region("US", "MA", T_("Massachusetts"), "America/New_York"),
    Region("US", "MI", T_("Michigan"), "America/Detroit"),
    Region("US", "MN", T_("Minnesota"), "America/Chicago"),
    Region("US", "MS", T_("Mississippi"), "America/Chicago"),
    Region("US", "MO", T_("Missouri"), "America/Chicago"),
    Region("US", "MT", T_("Montana"), "America/Denver"),
    Region("US", "NE", T_("Nebraska"), "America/Chicago"),
    Region("US", "NV", T_("Nevada"), "America/Los_Angeles"),
    Region("US", "NH", T_("New Hampshire"), "America/New_York"),
    Region("US", "NJ", T_("New Jersey"), "America/New_York"),
    Region("US", "NM", T_("New Mexico"), "America/Denver"),
    Region("US", "NY", T_("New York"), "America/New_York"),
    Region("US", "NC", T_("North Carolina"), "America/New_York"),
    Region("US", "ND", T_("North Dakota"), "America/Chicago"),
    Region("US", "OH", T_("Ohio"), "America/New_York"),
    Region("US", "OK", T_("Oklahoma"), "America/Chicago"),
    Region("US", "OR", T_("Oregon"), "America/Los_Angeles"),
    Region("US", "PA", T_("Pennsylvania"), "America/New_York"),
    Region("US", "RI", T_("Rhode Island"), "America/New_York"),
    Region("US", "SC", T_("South Carolina"), "America/New_York"),
    Region("US", "SD", T_("South Dakota"), "America/Chicago"),
    Region("US", "TN", T_("Tennessee"), "America/Chicago"),
    Region("US", "TX", T_("Texas"), "America/Chicago"),
    Region("US", "UT", T_("Utah"), "America/Denver"),
    Region("US", "VT", T_("Vermont"), "America/New_York"),
    Region("US", "VA", T_("Virginia"), "America/New_York"),
    Region("US", "WA", T_("Washington"), "America/Los_Angeles"),
    Region("US", "WV", T_("West Virginia"), "America/New_York"),
    Region("US", "WI", T_("Wisconsin"), "America/Chicago"),
    Region("US", "WY", T_("Wyoming"), "America/Denver"),
)
BY_CODE: dict[str, Region] = {region.code: region for region in REGIONS}
CURRENCY = {"CA": "CAD", "US": "USD"}
TIMEZONES: tuple[str, ...] = tuple(sorted({region.timezone for region in REGIONS}))
