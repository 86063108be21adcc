"""Background work: forecasts that have become stale are made again while pages stay quick."""

from rickyard.jobs.worker import ForecastWorker

__all__ = ["ForecastWorker"]
