"""Measured values: numbers, units and levels, once for the whole program.

In: text and exact fractions. Out: a `Measure`, its words and print, the values that words can mean, a `Level`.
May use: voice.errors, voice.data, the reader of data files, and pint. No other room; every other room may use this one.
"""

from voice.measure.measure import Measure, exact, fits, is_unit, registry

__all__ = ["Measure", "exact", "fits", "is_unit", "registry"]
