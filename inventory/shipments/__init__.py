"""Goods that leave: picking, scanning, dispatches, packing slips, returns."""
