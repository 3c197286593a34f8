"""What to buy, how much, from whom and by when."""
