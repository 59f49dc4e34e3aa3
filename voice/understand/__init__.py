"""What can be said, and what it means.

In: prompts/commands.yaml and the answers that an item takes.
Out: a `Question` with every phrase and its meaning.
May use: errors, data, measure, route.
"""
