"""Customers and channels: known again, written down, and how long what is personal of them is kept.

Modules:

- `customers`: Customers and channels: known again, written down, corrected. The only writer of what is personal.
- `forms`: What people type about customers, and about how long they are kept.
- `retention`: How long what is personal of customers is kept: so many months after the last of their business, as
  the studio sets.
- `tables`: What left as a table: of everybody, and on a customer's own page.
- `views`: Customers: the list, one of them with all that went there, corrected, erased; and how long they are kept.

Decisions that bind:

- What is personal of a customer stands in one row; as text a customer is a number. Bookkeepers see a private person
  by number.
- A customer is known again by name and one contact line, or where one side has none.
- Erasing takes name, contact and notes on orders; order references stay. A shop's name stays: it is no person's.
- No erasing with an open order, an open complaint or a real open recall. What else may speak against it is asked of
  the neighbors.
- Customers are locked where they are known again, and with their orders where they are erased.
"""
