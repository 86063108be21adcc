"""Background work: stale forecasts are made again, and long questions answered, while pages stay quick."""

from rickyard.jobs.answers import Answer, Answers
from rickyard.jobs.worker import ForecastWorker

__all__ = ["Answer", "Answers", "ForecastWorker"]
