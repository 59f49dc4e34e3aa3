"""Finished records of many vehicles: lives of defects, wear, and the depot.

In: signed records and certifications.
Out: history, forecasts, exports; what the next walk must ask.
May use: errors, data, measure, route, judge, journal, record.
"""
