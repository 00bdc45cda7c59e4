"""How many more circuits it may take. A guess with its width, never a date and never a permission."""

from grading.rules.forecast.curve import Forecast, learning_curve, next_probability, to_first_run

__all__ = ["Forecast", "learning_curve", "next_probability", "to_first_run"]
