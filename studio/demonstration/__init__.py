"""The demonstration: an invented studio, and `manage.py demo`, which builds and serves it. Nothing else imports it.
See README.md beside it.
"""
