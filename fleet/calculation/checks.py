"""What a kernel refuses before it reckons: numbers that cannot be the thing they are named for."""

import numpy as np

from fleet.calculation.units import Number


class InputError(ValueError):
    """An argument that no real brake, jack or gauge can have. ``argument`` names it."""

    def __init__(self, argument: str, message: str) -> None:
        super().__init__(f"{argument} {message}")
        self.argument = argument


def require_positive(**arguments: Number) -> None:
    """Raise InputError unless every argument (float or array) is finite and above zero.

    >>> require_positive(area_m2=0.0)
    Traceback (most recent call last):
    fleet.calculation.checks.InputError: area_m2 must be a finite number above zero
    """
    for argument, value in arguments.items():
        if not np.all(np.isfinite(value) & np.greater(value, 0)):
            raise InputError(argument, "must be a finite number above zero")


def require_not_negative(**arguments: Number) -> None:
    """Raise InputError unless every argument (float or array) is finite and not below zero."""
    for argument, value in arguments.items():
        if not np.all(np.isfinite(value) & np.greater_equal(value, 0)):
            raise InputError(argument, "must be a finite number, zero or more")


def require_whole(**arguments: Number) -> None:
    """Raise InputError unless every argument (int, float or array) is a whole number of at least one."""
    for argument, value in arguments.items():
        if not np.all(np.isfinite(value) & np.greater_equal(value, 1) & np.equal(np.floor(value), value)):
            raise InputError(argument, "must be a whole number, 1 or more")
