"""Customers and channels: known again, written down, and how long what is personal of them is kept."""
