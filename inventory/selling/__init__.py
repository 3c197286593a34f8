"""Customers, what they ordered, and how long what is personal of them is kept."""
