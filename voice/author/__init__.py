"""What an author of routes, limits and wording uses: checks, trials, generated tables.

In: prompts/ and files of a fleet.
Out: mistakes with file and line, tables in Markdown.
May use: errors, data, measure, route, understand, judge, walk, hear, models.
"""
