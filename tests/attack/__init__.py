"""Attacks on the project's promises: nothing acknowledged is lost, nothing changes unnoticed, no traceback, no packet.

Each module here but `__main__` and the tests is one attack:

ABOUT: one line that says what is attacked and what must hold.
SHARE: how many cases the test run takes.
prepared(folder): a context manager that sets up once below `folder` and yields `case(number, rng)`. That tries one case
    and returns None, or a sentence that says what gave way. The same number and rng give the same case.

A case builds its inputs from its number and rng alone. An exception that leaves a case counts as a failure.
"""
