"""Channels with their fees, suggested and asked prices, the price list."""
