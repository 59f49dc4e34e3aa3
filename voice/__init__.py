"""Gladhand: hands-free pre-trip vehicle inspection by voice, offline."""

__version__ = "0.3.0"
