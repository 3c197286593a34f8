"""Why a run cost more or less than it should: price, usage, yield, labour, overhead."""
