"""What is kept in stock: its page, levels and prices over time, the ledger of its movements."""
