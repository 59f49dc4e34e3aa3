"""One run of an inspection: devices are opened, the walk is performed, the record is written.

In: the options of a walk.
Out: everything that a walk leaves, shown through a `Display`; warnings by errors.tell.
May use: errors, data, measure, route, understand, judge, walk, sound, hear, speak, models, journal, record, logbook,
day.
"""
