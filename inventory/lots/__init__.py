"""What can happen to a lot on the shelf: decant, move, hold, take out; which lots to take first."""
