"""The student's side: recite, rehearse, progress.

In: the same plans and ears as a walk.
Out: scores, and what is known least.
May use: every room that session may use, and session for its devices.
"""
