"""What a batch gave, beside what was planned and what was drawn."""
