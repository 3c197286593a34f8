"""How long things take against the least they could take: `.venv/bin/python -m tests.performance`."""
