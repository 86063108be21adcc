"""Background work, while pages stay quick: stale forecasts, long questions, copies, weather services that are due."""

from rickyard.jobs.answers import Answer, Answers
from rickyard.jobs.copier import Copier
from rickyard.jobs.fetcher import WeatherFetcher
from rickyard.jobs.worker import ForecastWorker

__all__ = ["Answer", "Answers", "Copier", "ForecastWorker", "WeatherFetcher"]
