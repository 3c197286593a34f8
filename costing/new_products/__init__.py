"""A new scent priced before its first pour."""
