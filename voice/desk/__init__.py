"""The desk: pages in a browser for the mechanic, the office and the instructor, served from this machine.

In: the logbook, the signed records and recordings of the home, accounts made by command.
Out: pages; certifications and their withdrawal, added to the home's repairs.
May use: errors, data, measure, route, understand, judge, journal, record, logbook, session, rehearse.
"""
