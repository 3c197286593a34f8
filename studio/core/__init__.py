"""Quantities, money, numbers, codes and days: plain Python without a database or a clock."""
