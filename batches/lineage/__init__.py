"""What went into what: lots and batches between each other, what a lot is made of, and how far a recall of it reaches.

Modules:

- `composition`: What is in a lot: by base item, as exact shares of its weight, through every blend, decanting and
  recovered melt.
- `lineage`: What descends from lots and batches, and what they descend from: the lots, the batches and every
  quantity between.
- `other_scents`: Scents that came into a batch with recovered melt: which, how much, and the label words of the
  formulas they are from.
- `recall_scope`: How wide a recall of a lot would be: the batches, units, customers and money it would touch.

Decisions that bind:

- On SQLite a trace asks level by level, on PostgreSQL by recursive statements; keys travel as one parameter.
  networkx holds both in tests.
- Recovered melt counts by what its pot drew, a blend as its own item unless it holds scent; what is unknown is
  never taken for wax.
"""
