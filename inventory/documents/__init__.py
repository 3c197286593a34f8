"""Safety data sheets, certificates and photos kept beside items and lots."""
