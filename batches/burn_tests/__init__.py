"""Recorded trials of wick, vessel, wax and fragrance: plan, readings, pass or fail."""
