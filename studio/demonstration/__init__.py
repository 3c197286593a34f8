"""The demonstration: an invented studio, and `manage.py demo`, which builds and serves it. The product knows nothing of it."""
