"""A shop's own export of its orders, whatever its columns are called, brought in by a mapping kept for that shop."""
