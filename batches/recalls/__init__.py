"""Calling back a lot: who has it, letters, how far it has come, how wide it would be."""
