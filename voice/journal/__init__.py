"""What a session leaves on the disk: its folder, journal and recordings.

In: events as they happen.
Out: checksummed lines, and by replay the state they lead to.
May use: errors, data, route, judge, walk, sound.
"""
