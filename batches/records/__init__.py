"""Batch ticket, completed batch record and the labels of finished candles."""
