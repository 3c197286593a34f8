"""Who may do what, and who signs for it."""
