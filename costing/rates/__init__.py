"""Rates of labour and overhead, each with the day from which it holds."""
