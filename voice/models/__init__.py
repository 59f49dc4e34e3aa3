"""Speech models that a user brings: a catalogue, and a shelf of those that were added.

In: a folder or an archive.
Out: a checked model in the home.
May use: errors, data, understand, sound, hear.
"""
