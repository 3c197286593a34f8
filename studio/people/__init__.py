"""Who may do what, and who signs for it.

Modules:

- `access`: Who may open which page. Every view says so; a view that does not is closed to everybody.
- `signature`: Who did something, when it happened, when it was written down, and why.

Decisions that bind:

- Every view declares its roles with `@allow`; a view that declares none is closed to everybody.
- A maker's access to costs is the owner's setting, not a role.
"""
