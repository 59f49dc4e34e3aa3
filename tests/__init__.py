"""Tests and benchmarks. Numpy is kept to one thread, as in the program (voice/cli): where two workers' numpy takes both
cores each, tests of the ear last six times as long. It must be said before numpy is imported."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
