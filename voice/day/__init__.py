"""A working day: what was inspected, what is due when and by which mile, and the record of it.

In: signed records, changes of duty, the odometer; prompts/day.yaml.
Out: spans between looks at the cargo, what is due, a `DayRecord` and its report.
May use: errors, data, measure, route, judge, record, logbook.
"""
