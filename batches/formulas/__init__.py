"""What a product is made of and how: versions, loads, the batch sheet, approval, the fill weight of a vessel. See
README.md beside it.
"""
