"""What arrives, with its share of freight and duty, also when those are billed later."""
