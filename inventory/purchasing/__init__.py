"""Suppliers' offers and purchase orders, from draft to the last parcel."""
