"""What every page shares: forms, tables, plots, printed sheets, uploads, requests, panels."""
