"""The outside world: weather services. The only package that opens connections; nothing is asked unless turned on.

`SERVICES` lists them with their terms; `fetch_forecast` and `fetch_history` give records read and checked like files.
A service that does not answer as it should raises `errors.FeedError`, which says whether to ask again.
"""

from rickyard.feeds.http import Client
from rickyard.feeds.services import SERVICES, Access, Answer, Service, fetch_forecast, fetch_history

__all__ = [
    "SERVICES",
    "Access",
    "Answer",
    "Client",
    "Service",
    "fetch_forecast",
    "fetch_history",
]
