"""The list of items and an item's page, which show what every other folder knows of it."""
