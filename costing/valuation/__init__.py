"""Stock value at any day and the cost of goods of any period."""
