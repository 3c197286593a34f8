"""The roof: Today, search, the studio's settings and its people, everything exported at once. Nothing imports it."""
