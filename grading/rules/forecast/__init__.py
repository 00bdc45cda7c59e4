"""Forecast how many more circuits it may take: a guess with its width, never a date and never a permission."""

from grading.rules.forecast.circuits_to_go import Forecast, forecast_circuits, learning_curve, next_probability
from grading.rules.forecast.courses import HORIZON
from grading.rules.forecast.curve import PartHistory

__all__ = ["HORIZON", "Forecast", "PartHistory", "forecast_circuits", "learning_curve", "next_probability"]
