"""What to buy, how much, from whom and by when. See README.md beside it."""
