"""What to pour and when: where a plan begins, the lots it suggests, the week, what orders still want."""
