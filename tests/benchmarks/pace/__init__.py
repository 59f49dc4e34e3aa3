"""How long a walk talks: python -m tests.benchmarks.pace"""
