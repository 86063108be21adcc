"""Background work: stale forecasts are made again and weather services asked, while pages stay quick."""

from rickyard.jobs.fetcher import WeatherFetcher
from rickyard.jobs.worker import ForecastWorker

__all__ = ["ForecastWorker", "WeatherFetcher"]
