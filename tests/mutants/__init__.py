"""Mutants: small deliberate breakages of the program, each of which some test should notice.

`python -m tests.mutants` breaks one thing at a time in a temporary copy of the checkout, runs the test files that are
mapped to the module, and writes results.json and RESULTS.md here. What survives is either the same program (notes.yaml
says why) or a promise that no test holds.

Two tools were tried on the journal before this was written, on two busy cores. mutmut 3.8.1 works (379 mutants, 2.4 s
each); cosmic-ray 8.7.0 works too (303 mutants, a fresh pytest for each: 12 s). Neither removes a statement, so neither
can take out an fsync, a raise or an early return (mutmut makes it `os.fsync(None)`, which any test notices).
mutmut does not negate a condition, and leaves alone everything outside of functions, which here is the table of what
may be answered where, and every bar of hearing. Those mutants matter most here.

operators.py: what is broken. targets.py: which modules, held by which tests. run.py: trying them. report.py: the list.
"""
