"""Counting the shelf: classes and due days, the sheet, its differences, the posting."""
