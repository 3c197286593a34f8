"""What products earn by unit, by kilogram and by hands-on hour; which inputs matter most."""
