"""Labels for lots: what they say, how they look, on which sheets or rolls."""
