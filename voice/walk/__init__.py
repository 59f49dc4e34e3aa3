"""The conversation: a pure state machine without clock, file or sound.

In: events (something was heard, or not).
Out: the new state, and what is to be said and asked.
May use: errors, data, measure, route, understand, judge.
"""
