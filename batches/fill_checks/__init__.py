"""Net weights of filled vessels: the sample, the control chart, the net-contents lot test."""
