"""What a cost is made of: cost categories, job costing, the cost of one unit; plain arithmetic for all of costing."""
