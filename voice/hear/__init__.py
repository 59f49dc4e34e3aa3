"""Ears: from a microphone and a question to what was answered, and how sure that is.

In: blocks of sound and the phrases of a question.
Out: a `Hearing`.
May use: errors, data, measure, understand, sound.
"""
