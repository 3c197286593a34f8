"""What customers report, which jar it may have been, and the lots that complaints share."""
