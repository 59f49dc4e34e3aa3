"""The inspection record: built, signed, checked, exported and printed.

In: a closed session.
Out: record.json, the report, tables; open defects of a vehicle.
May use: errors, data, measure, route, understand, judge, walk, journal.
"""
