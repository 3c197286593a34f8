"""What the record teaches: defects and yield against how and from what was poured."""
