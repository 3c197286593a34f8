"""Weighing up at the pot: what the tablet is told and sends, tolerance and overshoot."""
