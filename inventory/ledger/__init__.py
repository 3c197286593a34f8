"""The stock books: the one place that writes movements, closing, commitments."""
