"""Forecast how many more circuits it may take: a guess with its width, never a date and never a permission."""

from grading.rules.forecast.curve import Forecast, forecast_first_run, learning_curve, next_probability

__all__ = ["Forecast", "forecast_first_run", "learning_curve", "next_probability"]
