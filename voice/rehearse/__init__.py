"""The student's side: recite, rehearse, progress.

In: the same plans and ears as a walk.
Out: scores, and what is known least.
May use: errors, data, measure, route, understand, judge, sound, hear, speak, models, session (for its devices).
"""
