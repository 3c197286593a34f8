"""What a run really cost: material, labour, overhead, and what blends pass on."""
