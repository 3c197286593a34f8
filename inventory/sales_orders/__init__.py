"""Sales orders: who wants what by when, how far each has got, and what is ready for it."""
