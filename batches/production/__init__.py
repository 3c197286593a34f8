"""A batch from its plan to its release: draws, readings, labour, finishing in parts, what carries its material."""
