"""From any code back to what went in and onward to where it went, with shares and the balance."""
