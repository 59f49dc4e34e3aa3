"""Measured values: numbers, units and levels, once for the whole program.

In: text and exact fractions.
Out: a `Measure`, its words and print, the values that words can mean, a `Level`.
May use: errors, data.
"""

from voice.measure.measure import Measure, exact, fits, is_unit, registry

__all__ = ["Measure", "exact", "fits", "is_unit", "registry"]
