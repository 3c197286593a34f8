"""A batch from its plan to its release: draws, readings, labor, finishing in parts, what carries its material. See
README.md beside it.
"""
