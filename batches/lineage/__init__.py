"""What went into what: lots and batches between each other, what a lot is made of, and how far a recall of it reaches."""
