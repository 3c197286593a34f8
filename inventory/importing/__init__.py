"""Bringing in tables people kept before: what their columns mean, what is wrong in them, and what becomes of them.

`columns` says what a table holds, `cells` reads one cell, `planning` turns a file into a plan, each table's own module
(`names`, `offers`, `lots`, `movements`) understands its rows and carries them out, `bringing_in` is the verb.
"""
