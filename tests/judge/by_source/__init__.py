"""What the sources say of each entry of the shipped limits, case by case; `test_sources.py` holds the entries to it.

Written from the sources (the text of the rule or of one that adopts it, the audit in `tests/judge/audit.tsv`) and not
from prompts/limits. The cases of entries that were there before were written by someone who had not written
those entries; those of entries added since, by whoever added them, from the text named beside them. `again.py` holds a
second reader's cases, of someone who had written neither the entries nor the first cases and looked the sources up
anew; the audit's last column says for which entries, and how well.
"""
