"""What a product should cost and what its last runs cost, head by head."""
